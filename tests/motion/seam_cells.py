"""Cells with seams of several pieces, for tests."""

import dataclasses

import numpy as np

from pathsim.model import Point
from pathsim.transforms import frozen, translation
from tests.builders import cell, joint

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])


def seam_cell(offsets, moves, weave=None):
    """Points at offsets (m) from home's tip, same torch angle; solved as poses."""
    base = cell({"home": HOME}, [joint("home")])
    T = base.arm.pose(HOME) @ base.torch.T_flange_tcp
    points = dict(base.points)
    for name, offset in offsets.items():
        points[name] = Point(name, None, frozen(translation(offset) @ T))
    chained = [dataclasses.replace(m, weave=weave) if m.arc_on else m for m in moves]
    return dataclasses.replace(
        base, points=points, program=dataclasses.replace(base.program, moves=tuple(chained))
    )

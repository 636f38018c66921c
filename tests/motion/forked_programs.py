"""Programs on which the arm may go on in another posture, for tests."""

import dataclasses

import numpy as np

from pathsim.model import Point
from pathsim.transforms import frozen, pose, rotation_about
from tests.builders import (
    cell,
)

BEFORE = np.array([0.0, 0.2, 0.3, 0.0, 0.4, 0.0])


BEHIND = np.array([0.0, 0.25, 0.2, 0.0, -0.3, 0.0])


HOME = np.array([0.4, 0.1, 0.3, 0.0, 0.6, 0.0])


def program(start, end, moves, tilt=0.0, arm=None, **more):
    """From joints ``start`` to the pose at ``end``, tilted by so many degrees about its x."""
    c = cell({"home": HOME, "start": start}, moves, start="start", arm=arm, **more)
    turn = pose(rotation_about([1.0, 0.0, 0.0], np.radians(tilt)), np.zeros(3))
    T = c.arm.pose(end) @ turn @ c.torch.T_flange_tcp
    return dataclasses.replace(c, points={**c.points, "end": Point("end", None, frozen(T))})

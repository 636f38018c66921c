"""The quick number against the records of a whole measurement."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.clearance import engine_for, measure_moves
from pathsim.motion import plan_program
from pathsim.quick import least_clearance
from pathsim.transforms import frozen

SAMPLES = sorted(p.parent for p in (Path(__file__).parents[1] / "sample_cells").glob("*/cell.yaml"))


def changed(cell, rng):
    """The same cell with points moved a little, corners rounded and other margins."""
    points = dict(cell.points)
    for name, point in cell.points.items():
        if point.q is not None:
            q = point.q + rng.normal(0, 0.02, len(point.q)) * (np.arange(len(point.q)) < 6)
            points[name] = replace(point, q=frozen(q), T_base_tcp=None)
    rounding = 0.02
    # Where contact is wanted, and where the arc starts, nothing is rounded.
    program = cell.program.moves
    stops = [m.arc_on or m.joined or m.is_fixed for m in program]
    before = [m.arc_on or m.wants_contact for m in program[1:]] + [True]
    moves = tuple(
        replace(m, rounding=0.0 if stop or behind else rounding)
        for m, stop, behind in zip(program, stops, before, strict=True)
    )
    air = float(rng.choice([0.005, 0.02]))
    return replace(cell, points=points, program=replace(cell.program, moves=moves),
                   margins=replace(cell.margins, air=air))  # fmt: skip


@pytest.mark.parametrize("folder", SAMPLES, ids=lambda path: path.name)
def test_it_is_the_least_of_all_pairs_of_all_moves(folder):
    rng = np.random.default_rng(5)
    whole = pathsim.load_cell(folder)
    for cell in (whole, changed(whole, rng)):
        trajectory = plan_program(cell)
        moves = measure_moves(cell, trajectory, engine_for(cell))
        least = least_clearance(cell, trajectory, engine_for(cell))
        pairs = [pair for move in moves for pair in move.noteworthy]
        spare = [-np.inf if p.clearance.touches else p.clearance.lower - p.margin for p in pairs]
        assert least.lower == min(p.clearance.lower for move in moves for p in move.pairs)
        assert least.spare == min(spare)
        worst = {(p.piece, p.body, p.move)
                 for p, left in zip(pairs, spare, strict=True) if left == least.spare}  # fmt: skip
        assert (least.piece, least.body, least.move) in worst


def test_nothing_to_measure_has_no_pair():
    cell = pathsim.load_cell(SAMPLES[0])
    bare = replace(cell, bodies=(), link_meshes=(None,) * len(cell.link_meshes), cables=())
    least = least_clearance(bare, plan_program(bare), engine_for(bare))
    assert least == (np.inf, np.inf, "", "", 0)

"""A part that was moved takes its weld points with it, and no others."""

from pathlib import Path

import numpy as np
import pytest

from pathsim import load_cell, pose_at
from pathsim.model import Move, MoveKind, StandsOn, Stitch
from pathsim.model.run import Run, Shift
from pathsim.motion import plan_program
from pathsim.motion.shifted_points import shifted_points, with_shifted
from pathsim.motion.targets import Targets
from pathsim.motion.welds import arc_points
from pathsim.transforms import inverse
from tests.advice.test_welds_untouched import small_cell
from tests.builders import joint, linear

SAMPLES = Path(__file__).parents[2] / "sample_cells"
MOVED = pose_at([0.006, -0.004, 0.002], turned=[0.0, 0.0, 0.01])


@pytest.mark.parametrize("name", ["gate_hinge", "collar_seam", "hanging_rail", "offset_wrist"])
def test_each_weld_point_goes_where_its_part_goes(name):
    cell = load_cell(SAMPLES / name)
    found = shifted_points(cell, MOVED)
    assert {one.name for one in found} == arc_points(cell)
    targets = Targets(cell)
    for one in found:
        before = cell.T_world_base @ targets.tool_pose(one.name)
        assert one.q is not None
        after = cell.tool_poses(one.q[None])[0]
        np.testing.assert_allclose(after, MOVED @ before, atol=1e-7)
        assert one.off == pytest.approx((MOVED @ before - before)[:3, 3])
        assert one.turn == pytest.approx(0.01)
        if cell.points[one.name].q is not None:  # the same posture, as near as can be
            assert np.abs(one.q - cell.points[one.name].q).max() < 0.2


def test_on_a_turning_table_the_part_moves_in_the_tables_frame():
    cell = load_cell(SAMPLES / "turned_collar")
    targets, points = Targets(cell), shifted_points(cell, MOVED, stands_on=StandsOn.TABLE)
    turned = [one for one in points if abs(cell.points[one.name].q[-1]) > 0.1]
    assert turned
    for one in points:
        T_table = cell.table.motion(cell.points[one.name].q[-1:])
        before = inverse(T_table) @ cell.T_world_base @ targets.tool_pose(one.name)
        after = inverse(cell.table_motion(one.q[None])[0]) @ cell.tool_poses(one.q[None])[0]
        np.testing.assert_allclose(after, MOVED @ before, atol=1e-7)
    assert any(
        np.linalg.norm(a.off - b.off) > 1e-4
        for a, b in zip(
            turned, shifted_points(cell, MOVED, names=[t.name for t in turned]), strict=True
        )
    )


def test_the_program_welds_the_part_where_it_stands_now():
    cell = load_cell(SAMPLES / "gate_hinge")
    moved = with_shifted(cell, shifted_points(cell, MOVED))
    for before, after in zip(plan_program(cell).tracks, plan_program(moved).tracks, strict=True):
        if before.move.arc_on:
            ends = cell.tips(before.q[[0, -1]]) @ MOVED[:3, :3].T + MOVED[:3, 3]
            np.testing.assert_allclose(cell.tips(after.q[[0, -1]]), ends, atol=2e-4)


def test_what_is_out_of_reach_is_said_and_left():
    cell = load_cell(SAMPLES / "gate_hinge")
    found = shifted_points(cell, pose_at([9.0, 0, 0]))
    assert found and all(one.q is None for one in found)
    assert with_shifted(cell, found).points == cell.points


@pytest.mark.parametrize("is_run", [False, True])
def test_a_line_of_several_moves_goes_where_its_part_goes(is_run):
    """Its weld is not at the points that were taught for it, and moves with them all the same."""
    seam = Move(MoveKind.LINEAR, "end", 0.006, arc_on=True, crater=0.4)
    weld = (joint("above"), linear("start"), seam, linear("retract"))
    if is_run:
        lines = [Run("weld", weld, 2, Shift((0.0, -0.02, 0.0)), Shift((0.0, -0.01, 0.0))).move]
    else:
        lines = [*weld[:2], Stitch(seam, 0.025, 0.03, 0.05).move, weld[3]]
    cell = small_cell([*lines, joint("home")])
    welds = [m.target for m in cell.program.moves if m.arc_on]
    assert "end" not in welds
    slid = pose_at([0.006, -0.004, 0.002])
    found = shifted_points(cell, slid)
    assert {one.name for one in found} == {"start", "start again", "end"}
    moved = with_shifted(cell, found)
    tracks = zip(plan_program(cell).tracks, plan_program(moved).tracks, strict=True)
    seams = [(old, new) for old, new in tracks if old.move.arc_on]
    assert len(seams) == (2 if is_run else 4)
    for before, after in seams:
        ends = cell.tips(before.q[[0, -1]]) + slid[:3, 3]
        np.testing.assert_allclose(cell.tips(after.q[[0, -1]]), ends, atol=1e-5)

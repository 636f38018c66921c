"""Subprograms that run again and shifted, waits for somebody, wire that is inched."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.advice.change import Change
from pathsim.arm.postures import posture_of
from pathsim.check import check
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.swept.engine import FastEngine
from pathsim.errors import CellError, LineError, WeldTouched
from pathsim.files import load_cell, save_cell
from pathsim.files.cell_differences import differences
from pathsim.files.cell_writer import write_changed_cell
from pathsim.findings import FindingKind, Level
from pathsim.model import Group, Move, MoveKind, Point, Role, Stitch, tack
from pathsim.model.pause import Pause
from pathsim.model.run import Run, Shift
from pathsim.motion import plan_program
from pathsim.report import result_as_json
from pathsim.transforms import pose, rotation_about
from tests.advice.test_welds_untouched import AT, small_cell
from tests.builders import body, box, cell, joint, linear, turning_table

SEAM = Move(MoveKind.LINEAR, "end", 0.02, arc_on=True, crater=0.4)
WELD = (joint("above"), linear("start"), SEAM, linear("retract"))
HOME = joint("home")


def ran(*runs, extra=()):
    return small_cell([*(run.move if isinstance(run, Run) else run for run in runs), HOME], extra)


def tip(c, name):
    point = c.points[name]
    q = point.q
    return c.tool_poses(q[None])[0] if q is not None else c.T_world_base @ point.T_base_tcp


def test_a_run_is_its_lines():
    one, two = ran(Run("weld", WELD)), small_cell([*WELD, HOME])
    for mine, theirs in zip(plan_program(one).tracks, plan_program(two).tracks, strict=True):
        assert np.array_equal(mine.t, theirs.t) and np.array_equal(mine.q, theirs.q)
    assert [m.belongs_to for m in one.program.moves] == ["'weld'"] * 4 + [""]
    assert set(one.points) == set(two.points)  # nothing shifted, no point more


def test_points_are_shifted_in_the_axes_that_are_named():
    """By hand: 30 mm along the world's x, then 10 mm more each time along its y."""
    by, step = (0.03, 0.0, 0.02), (0.0, 0.01, 0.0)
    c = ran(Run("weld", WELD, 3, Shift(by), Shift(step)))
    for number in (1, 2, 3):
        for name in ("above", "start", "end", "retract"):
            there, here = tip(c, f"{name}, weld {number}"), tip(c, name)
            off = np.array(by) + (number - 1) * np.array(step)
            assert np.allclose(there[:3, 3], here[:3, 3] + off, atol=1e-9)
            assert np.allclose(there[:3, :3], here[:3, :3], atol=1e-9)
    arm = c.arm
    for name, point in c.points.items():
        if point.derived:
            taught = c.points[name.split(",")[0]]
            assert posture_of(arm, point.q) == posture_of(arm, taught.q)
    assert [m.belongs_to for m in c.program.moves[4:8]] == ["'weld', 2 of 3"] * 4


def test_a_turned_frame_turns_the_shift():
    """A jig turned by 90 deg: its x is the world's y; turned about its origin by 20 deg."""
    T = pose(rotation_about([0.0, 0.0, 1.0], np.pi / 2), AT)
    jig = Group("jig", T)
    base = small_cell([*WELD, HOME]).with_group(jig)
    c = base.with_program("home", Run("weld", WELD, 1, Shift((0.02, 0, 0)), frame="jig").move, HOME)
    assert np.allclose(tip(c, "start, weld")[:3, 3], tip(c, "start")[:3, 3] + [0, 0.02, 0])
    run = Run("weld", WELD, 1, Shift(turned=(0.0, 0.0, np.radians(20))), frame="jig")
    c = base.with_program("home", run.move, HOME)
    turn = rotation_about([0.0, 0.0, 1.0], np.radians(20))
    for name in ("start", "end"):
        there, here = tip(c, f"{name}, weld"), tip(c, name)
        assert np.allclose(there[:3, 3], AT + turn @ (here[:3, 3] - AT), atol=1e-9)
        assert np.allclose(there[:3, :3], turn @ here[:3, :3], atol=1e-9)
    with pytest.raises(LineError, match="no frame 'jigs'"):
        base.with_program("home", replace(run, frame="jigs").move, HOME)


def test_on_a_turning_table_the_shift_turns_with_its_frame():
    plain = small_cell([*WELD, HOME])
    points = {n: Point(n, np.append(p.q, 0.5)) for n, p in plain.points.items()}
    on_it = Group("jig", np.eye(4), on_table=True)
    made = cell(points, [*WELD, HOME], table=turning_table()).with_group(on_it)
    run = Run("weld", WELD, 1, Shift((0.0, 0.0, 0.01)), frame="jig")
    flat = replace(run, shift=Shift((0.01, 0.0, 0.0)))
    for one in (run, flat):
        c = made.with_program("home", one.move, HOME)
        here, there = (c.tips_on_part(c.points[n].q[None])[0] for n in ("start", "start, weld"))
        assert np.allclose(there - here, one.shift.by, atol=1e-9)
    world = made.with_program("home", replace(flat, frame="world").move, HOME)
    assert np.allclose((tip(world, "start, weld") - tip(world, "start"))[:3, 3], [0.01, 0, 0])


def test_poses_and_stitches_are_shifted_too():
    c = small_cell([*WELD, HOME])
    T = tip(c, "end")
    c = c.with_point("end", T_world_tcp=T, posture="ahead")
    line = Stitch(SEAM, 0.04, 0.04, 0.05, 0.02).move
    run = Run(
        "weld", (*WELD[:2], tack("start", 0.5), line, WELD[3]), 2, step=Shift((0.0, 0.0, 0.03))
    )
    c = c.with_program("home", run.move, HOME)
    assert str(c.points["end, weld 2"].posture) == "ahead"
    welds = [m for m in c.program.moves if m.arc_on and not m.tack]
    assert [m.belongs_to for m in welds[3:]] == [
        f"stitch {k} of 3, 'weld', 2 of 2" for k in (1, 2, 3)
    ]
    first, again = (tip(c, m.target)[:3, 3] for m in (welds[1], welds[4]))
    assert np.allclose(again - first, [0.0, 0.0, 0.03], atol=1e-9)
    # and a weld that is taught anew takes all of it along
    moved = c.with_point("start", T_world_tcp=pose(tip(c, "start")[:3, :3], AT + [0.01, -0.1, 0]))
    first_moved = tip(moved, welds[4].target)[:3, 3]
    assert np.linalg.norm(first_moved - again) > 0.003


@pytest.mark.parametrize("engine", [FastEngine, ReferenceEngine])
def test_what_stands_where_it_is_shifted_to_is_hit(engine):
    """A post beside the second place only; the first run passes it."""
    post = body(box((0.02, 0.02, 0.2)), "post", Role.CLAMP, AT + [0.15, 0.0, 0.05])
    step = Shift((0.15, 0.0, 0.02))
    c = ran(Run("weld", WELD, 2, step=step), extra=[post])
    found = check(c, engine=engine(c)).findings
    hits = {f.move for f in found if f.kind is FindingKind.CONTACT and f.body == "post"}
    assert 7 in hits and not hits & {1, 2, 3}
    far = ran(Run("weld", WELD, 2, step=Shift((3.0, 0.0, 0.0))))
    stops = [f for f in check(far, engine=engine(far)).findings if f.level is Level.STOP]
    assert any(f.move == 5 for f in stops)  # out of reach, and said


def test_it_stays_whole_and_is_saved_as_it_was_written(tmp_path):
    line = Stitch(SEAM, 0.04, 0.04, 0.05).move
    lines = (*WELD[:2], line, linear("retract").waiting(0.5, (Pause(0.5, "the operator"),)))
    run = Run("weld", lines, 2, Shift((0, 0, 0.01)), Shift((0.0, 0.0, 0.02), (0, 0, 0.1)), "block")
    c = ran(run.waiting(1.0).waiting(2.0, (Pause(2.0, wait_for="station 2"),)), Run("weld", lines))
    c = c.with_program("home", *c.program.moves)
    folder = save_cell(c, tmp_path / "ran")
    assert list(differences(c, load_cell(folder))) == []
    text = (folder / "cell.yaml").read_text(encoding="utf-8")
    assert text.count("run: weld") == 2 and text.count("stitch:") == 1
    moves = c.program.moves
    with pytest.raises(CellError, match="a subprogram is one line"):
        c.with_program("home", *moves[:3], HOME, *moves[3:])
    with pytest.raises(WeldTouched):
        Change(c, moves=((3, HOME),))
    with pytest.raises(WeldTouched):
        Change(c, points={"retract, weld 1": c.points["home"].q})
    with pytest.raises(CellError, match="no run within a subprogram"):
        Run("outer", (run.move,))


def test_a_move_is_written_beside_a_run(tmp_path):
    c = ran(Run("weld", WELD, 2).waiting(1.0, (Pause(1.0, "the operator"),)), linear("low"))
    folder = save_cell(c.with_program("home", *c.program.moves), tmp_path / "ran")
    old = load_cell(folder)
    change = [(8, linear("above", 0.1)), (len(old.program.moves), joint("above", 0.4))]
    new = write_changed_cell(folder, tmp_path / "new", old, {}, change)
    assert [m.target for m in new.program.moves[8:]] == ["above", "low", "home", "above"]
    assert new.program.moves[7].waits_for == ("the operator",)


def test_a_wait_of_unknown_length_is_counted_at_least():
    c = small_cell([joint("above").waiting(2.0, (Pause(2.0, wait_for="the operator"),)), HOME])
    plain = small_cell([joint("above"), HOME])
    assert plan_program(c).duration == pytest.approx(plan_program(plain).duration + 2.0)
    result = check(c)
    note = next(f for f in result.findings if f.kind is FindingKind.PROGRAM_LINE)
    assert "waits for the operator" in note.text and "at least" in note.text
    document = json.loads(result_as_json(result))
    assert document["seconds_are_at_least"] is True
    assert document["moves"][0]["stands_for"] == ["wait for the operator, at least 2 s"]
    assert json.loads(result_as_json(check(plain)))["seconds_are_at_least"] is False


def inched(*lengths):
    pauses = tuple(Pause(abs(x) / 0.05, inch=x) for x in lengths)
    return joint("above").waiting(sum(p.seconds for p in pauses), pauses)


def test_wire_is_inched_back_and_no_farther_out_than_it_is_measured(tmp_path):
    c = small_cell([inched(-0.005, 0.005), linear("start"), SEAM, linear("retract"), HOME])
    assert plan_program(c).tracks[0].duration == pytest.approx(
        plan_program(small_cell([joint("above"), HOME])).tracks[0].duration + 0.2
    )
    assert list(differences(c, load_cell(save_cell(c, tmp_path / "inched")))) == []
    for some in ((0.001,), (-0.005, 0.006)):
        with pytest.raises(LineError, match="longer there than the stick-out"):
            small_cell([inched(*some), HOME])
    again = replace(SEAM, crater=0.0).waiting(0.1, (Pause(0.1, inch=-0.005),))
    with pytest.raises(LineError, match=r"1\.0 mm longer"):  # the arc brings the stick-out back
        small_cell([inched(-0.005), linear("start"), again, replace(inched(0.006), target="low")])
    assert Path(tmp_path / "inched" / "cell.yaml").read_text(encoding="utf-8").count("inch:") == 2


def test_what_is_asked_of_a_joint_move_within_a_run_is_asked_of_it_alone():
    """A post in the way of the joint move between two runs: said, with what a straight one does."""
    post = body(box((0.02, 0.02, 0.3)), "post", Role.CLAMP, AT + [0.0, 0.0, 0.2])
    c = ran(Run("weld", WELD, 2), extra=[post])
    plain = small_cell([*WELD, *WELD, HOME], [post])
    kinds = (FindingKind.CONTACT, FindingKind.NEAR_HIT)
    said = [[f.text for f in check(x).findings if f.kind in kinds] for x in (c, plain)]
    assert said[0] == said[1] and any("move 5" in text for text in said[0])

"""Stitches and tacks: laid out by hand, kept whole, and no cover for anything beside the weld."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation, Slerp

from pathsim.advice.change import Change
from pathsim.check import check
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.swept.engine import FastEngine
from pathsim.errors import CellError, LineError, WeldTouched
from pathsim.files import load_cell, save_cell
from pathsim.files.cell_differences import differences
from pathsim.findings import FindingKind, Level
from pathsim.model import Move, MoveKind, Pattern, Point, Role, Stitch, Weave, tack
from pathsim.model.laid_out import lines_of
from pathsim.motion import plan_program
from pathsim.transforms import frozen, pose, rotation_about
from tests.advice.test_welds_untouched import AT, DOWN, joints, small_cell
from tests.builders import body, box, cell, joint, linear, turning_table

ALONG = Move(MoveKind.LINEAR, "end", 0.006, arc_on=True, crater=0.4)
TO_START = (joint("above"), linear("start"))
AWAY = (linear("retract"), joint("home"))


def stitched(seam=ALONG, on=0.02, off=0.04, between=0.05, lift=0.0):
    return small_cell([*TO_START, Stitch(seam, on, off, between, lift).move, *AWAY])


def tip_at(c, name):
    point = c.points[name]
    T = c.tool_poses(point.q[None])[0] if point.q is not None else c.T_world_base @ point.T_base_tcp
    return T[:3, 3]


@given(st.floats(0.01, 0.1), st.floats(0.01, 0.1), st.floats(0.0, 1.0).map(lambda x: 0.11 + 2 * x))
def test_lengths_come_in_their_order_and_leave_what_was_asked(on, off, whole):
    found = Stitch(ALONG, on, off, 0.05).lengths(whole)
    assert found[0][0] == 0.0 and found[-1][1] <= whole
    for k, (begin, end) in enumerate(found):
        assert begin == pytest.approx(k * (on + off))
        assert end - begin == pytest.approx(on) or (k == len(found) - 1 and end == whole)
        assert end - begin >= 0.5 * on - 1e-9
    rest = whole - len(found) * (on + off)
    assert rest < 0.5 * on + 1e-9  # no further stitch fits


def test_a_line_is_laid_out_in_closed_form():
    """200 mm, 20 on and 40 off: four stitches from 0, 60, 120 and 180 mm, the last to the end."""
    c = stitched()
    assert [(m.label, m.belongs_to) for m in c.program.moves[2:9]] == [
        ("seam", "stitch 1 of 4"), ("linear", "between stitches"),
        ("seam", "stitch 2 of 4"), ("linear", "between stitches"),
        ("seam", "stitch 3 of 4"), ("linear", "between stitches"),
        ("seam", "stitch 4 of 4"),
    ]  # fmt: skip
    assert c.program.moves[8].target == "end"
    ends = [tip_at(c, move.target) for move in c.program.moves[2:9]]
    ways = np.array([0.02, 0.06, 0.08, 0.12, 0.14, 0.18, 0.20])
    assert np.allclose(ends, AT + np.outer(ways - 0.1, [0.0, 1.0, 0.0]), atol=1e-9)
    assert all(m.crater == 0.4 for m in c.program.moves if m.arc_on)
    assert {n for n, p in c.points.items() if p.derived} == {
        f"end, stitch {k} {what}" for k, what in
        [(1, "end"), (2, "start"), (2, "end"), (3, "start"), (3, "end"), (4, "start")]
    }  # fmt: skip


@pytest.mark.parametrize("lift", [0.0, 0.03])
def test_it_runs_as_if_each_point_had_been_taught_by_hand(lift):
    """Poses by scipy's own interpolation between two tilted torches; the same moves, plainly."""
    T_end = pose(rotation_about([0.0, 1.0, 0.0], 0.3) @ DOWN, AT + [0.0, 0.1, 0.0])
    c = stitched(on=0.05, off=0.05, lift=lift).with_point("end", T_world_tcp=T_end)
    T_start = c.tool_poses(c.points["start"].q[None])[0]
    turns = Slerp([0, 1], Rotation.from_matrix([T_start[:3, :3], T_end[:3, :3]]))

    def at(way, up=0.0):
        R = turns(way / 0.2).as_matrix()
        tip = T_start[:3, 3] + (T_end[:3, 3] - T_start[:3, 3]) * way / 0.2
        return pose(R, tip - up * R[:, 2])

    places = {"a": at(0.05), "b": at(0.10), "c": at(0.15)}
    places |= {"a up": at(0.05, lift), "b up": at(0.10, lift), "c up": at(0.15, lift)}

    def over(here, there):
        if not lift:
            return [Move(MoveKind.LINEAR, there, 0.05, along_weld=True)]
        names = f"{here} up", f"{there} up", there
        return [Move(MoveKind.LINEAR, name, 0.05) for name in names]

    by_hand = [
        *TO_START, replace(ALONG, target="a"), *over("a", "b"), replace(ALONG, target="c"), *AWAY,
    ]  # fmt: skip
    other = small_cell([*TO_START, *AWAY])
    for name, T in (places | {"end": T_end}).items():
        other = other.with_point(name, T_world_tcp=T)
    other = other.with_program("home", *by_hand)
    one, two = plan_program(c).tracks, plan_program(other).tracks
    assert len(one) == len(two)
    for mine, theirs in zip(one, two, strict=True):
        assert np.allclose(mine.t, theirs.t, atol=1e-6) and np.allclose(mine.q, theirs.q, atol=1e-6)
    # Narrower than a check asks: where in its interval an answer lies is nobody's promise.
    checks = (check(one, engine=FastEngine(one, tolerance=1e-5)) for one in (c, other))
    found = zip(*(result.moves for result in checks), strict=True)
    assert all(a.worst.clearance.lower == pytest.approx(b.worst.clearance.lower, abs=2e-5)
               for a, b in found if a.worst and b.worst)  # fmt: skip


def test_pieces_of_an_arc_stay_on_it_and_pass_the_taught_point():
    """A quarter of a circle of 80 mm, its middle taught with the torch turned."""
    centre, angles = AT, {"start": -0.8, "middle": 0.1, "end": 0.8}
    turned = {"start": 0.0, "middle": 0.25, "end": 0.0}
    c = stitched()
    for name, angle in angles.items():
        place = centre + 0.08 * np.array([np.cos(angle), np.sin(angle), 0.0])
        T = pose(rotation_about([0.0, 0.0, 1.0], turned[name]) @ DOWN, place)
        c = c.with_point(name, T_world_tcp=T)
    seam = replace(ALONG, kind=MoveKind.ARC, via="middle")
    whole = c.with_program("home", *TO_START, seam, *AWAY)
    c = c.with_program("home", *TO_START, Stitch(seam, 0.02, 0.02, 0.05).move, *AWAY)
    assert "middle" in {move.via for move in c.program.moves}
    pieces = [t for t in plan_program(c).tracks if t.move.written is not None]
    tips = np.concatenate([c.tips(t.q) for t in pieces])
    assert np.allclose(np.linalg.norm(tips - centre, axis=1), 0.08, atol=3e-5)
    # As far along, the whole seam has the same torch.
    track = next(t for t in plan_program(whole).tracks if t.move.arc_on)
    order = np.arctan2(*(c.tips(track.q) - centre)[:, 1::-1].T)
    for piece in pieces:
        T = c.tool_poses(piece.q)
        angle = np.arctan2(*(T[:, :3, 3] - centre)[:, 1::-1].T)
        q = np.stack([np.interp(angle, order, column) for column in track.q.T], axis=-1)
        assert np.allclose(c.tool_poses(q)[:, :3, :3], T[:, :3, :3], atol=1e-3)


def test_on_a_turning_table_the_stitches_are_on_the_part():
    table = turning_table()
    c = stitched()
    points = {n: Point(n, np.append(p.q, 0.0)) for n, p in c.points.items() if not p.derived}
    points["end"] = Point("end", np.append(points["end"].q[:6], 0.2))
    made = cell(
        points, [*TO_START, Stitch(ALONG, 0.02, 0.02, 0.05).move, *AWAY], table=table
    )  # fmt: skip
    first, last = (made.tips_on_part(made.points[n].q[None])[0] for n in ("start", "end"))
    way = (last - first) / np.linalg.norm(last - first)
    for track in plan_program(made).tracks:
        if track.move.written is None:
            continue
        off = made.tips_on_part(track.q) - first
        assert np.linalg.norm(off - np.outer(off @ way, way), axis=1).max() < 3e-5
        assert np.allclose(
            track.q[:, 6], 0.2 * (off @ way) / np.linalg.norm(last - first), atol=1e-3
        )


def test_a_point_that_nobody_taught_cannot_be_taught_anew():
    """It would be made again from the line: what was said of it would be lost."""
    c = stitched()
    with pytest.raises(CellError, match="follows from a line of the program"):
        c.with_point("end, stitch 1 end", q=c.points["end"].q)
    with pytest.raises(CellError, match="follows from a line of the program"):
        c.without_point("end, stitch 1 end")


@pytest.mark.parametrize("name", ["start", "end"])
def test_on_a_table_a_line_needs_to_know_how_it_stands(name):
    """A seam takes the table along as it stands; its stitches would lie elsewhere."""
    c = stitched()
    points = {n: Point(n, np.append(p.q, 0.8)) for n, p in c.points.items() if not p.derived}
    points[name] = Point(name, None, c.T_base_world @ c.tool_poses(c.points[name].q[None])[0])
    with pytest.raises(LineError, match=f"nobody said how the table stands at '{name}'"):
        cell(points, [*TO_START, Stitch(ALONG, 0.02, 0.02, 0.05).move, *AWAY],
             table=turning_table())  # fmt: skip


def test_points_follow_those_that_were_taught():
    """A point taught anew takes its stitches along, and their number with it."""
    c = stitched()
    shorter = c.with_point("end", q=joints(AT + [0.0, -0.02, 0.0], c.points["end"].q))
    welds = [m for m in shorter.program.moves if m.arc_on]
    assert [m.belongs_to for m in welds] == ["stitch 1 of 2", "stitch 2 of 2"]
    assert np.allclose(tip_at(shorter, "end, stitch 2 start"), AT + [0.0, -0.04, 0.0], atol=1e-9)
    assert not any("stitch 3" in name for name in shorter.points)
    assert [m.label for m in lines_of(shorter.program)] == [m.label for m in lines_of(c.program)]
    plain = c.with_program("home", *TO_START, *AWAY)
    assert not any(point.derived for point in plain.points.values())


def test_a_line_stays_whole():
    c = stitched(lift=0.02)
    moves = c.program.moves
    for some in (moves[:4] + moves[5:], (*moves[:4], joint("home"), *moves[4:]), moves[:6]):
        with pytest.raises(CellError, match="a stitch is one line of the program"):
            c.with_program("home", *some)
    for change in (
        {"moves": ((4, joint("home")),)},
        {"instead": ((4, linear("retract")),)},
        {"points": {"end, stitch 1 lifted": c.points["home"].q}},
    ):
        with pytest.raises(WeldTouched):
            Change(c, **change)


def test_what_does_not_fit_is_refused_with_its_line():
    with pytest.raises(LineError, match=r"200\.0 mm long, shorter than one stitch"):
        stitched(on=0.3)
    with pytest.raises(LineError, match="more than 500 stitches"):
        far = pose(DOWN, AT + [0.0, 1.0, 0.0])
        stitched(on=0.001, off=0.001).with_point("end", T_world_tcp=far)
    with pytest.raises(CellError, match="on: came"):
        Stitch(ALONG, 1e-5, 0.02, 0.05)
    with pytest.raises(CellError, match="the point where the torch stands then, 'start'"):
        small_cell([*TO_START, tack("end", 0.8), *AWAY])


def grave(c, engine=None):
    result = check(c, engine=None if engine is None else engine(c))
    return {(f.move, f.body, f.piece) for f in result.findings
            if f.level is Level.STOP and f.kind is FindingKind.CONTACT}  # fmt: skip


@pytest.mark.parametrize("engine", [FastEngine, ReferenceEngine])
def test_the_wire_may_trail_with_its_end_and_no_more(engine):
    """Between stitches a rib of 3 mm is at the wire's end; one of 9 mm is not, nor is a clamp."""
    c = stitched()
    at = AT + [0.0, -0.06, 0.0]  # 40 mm along: between the first and the second stitch
    over = next(k for k, m in enumerate(c.program.moves, 1) if m.along_weld)
    assert grave(c, engine) == set()
    low = body(box((0.05, 0.004, 0.006)), "rib", Role.PART, at)
    high = body(box((0.05, 0.004, 0.018)), "rib", Role.PART, at)
    clamp = body(box((0.05, 0.004, 0.006)), "low clamp", Role.CLAMP, at)
    assert grave(c.with_body(low), engine) == set()
    assert (over, "rib", "wire") in grave(c.with_body(high), engine)
    assert (over, "low clamp", "wire") in grave(c.with_body(clamp), engine)
    lifted = stitched(lift=0.03)
    assert grave(lifted.with_body(clamp), engine) == set()
    # and a lift that is too low for it is found where it is
    assert grave(stitched(lift=0.002).with_body(clamp), engine) != set()


def test_a_tack_stands_still_for_its_time():
    c = small_cell([*TO_START, tack("start", 0.8, wait=0.5), linear("end"), *AWAY])
    track = plan_program(c).tracks[2]
    assert track.move.label == "tack" and track.tip_length == 0
    assert track.duration == pytest.approx(1.3) and track.arc_seconds == pytest.approx(0.8)
    assert np.ptp(track.q, axis=0).max() == 0
    assert not any(move == 3 for move, _, _ in grave(c))


def test_what_is_left_over_is_said():
    def said(c):
        return [f.text for f in check(c).findings if f.kind is FindingKind.PROGRAM_LINE]

    assert said(stitched(on=0.025, off=0.05, lift=0.02)) == [
        "The last 25.0 mm to 'end' are not welded: no further stitch of 25.0 mm fits. The torch "
        "leaves from the last one."
    ]
    assert said(stitched(on=0.04, off=0.04, lift=0.02)) == []
    found = said(stitched(on=0.04, off=0.045, lift=0.02))
    assert found == ["The last of the 3 stitches to 'end' is 30.0 mm long, the others 40.0 mm."]
    assert "trails along the joint" in said(stitched())[0]


@pytest.mark.parametrize("lift", [0.0, 0.02])
def test_it_is_saved_as_it_was_written(tmp_path, lift):
    line = Stitch(ALONG, 0.02, 0.04, 0.05, lift).waiting(2).move
    c = small_cell([*TO_START, tack("start", 0.8), line, tack("end", 0.5), *AWAY])
    folder = save_cell(c, tmp_path / "stitched")
    text = (folder / "cell.yaml").read_text(encoding="utf-8")
    assert text.count("stitch:") == 1 and text.count("tack:") == 2 and "wait: 2.0 s" in text
    assert "stitch 2" not in (folder / "points.csv").read_text(encoding="utf-8")
    loaded = load_cell(folder)
    assert list(differences(c, loaded)) == []
    assert [m.belongs_to for m in loaded.program.moves] == [m.belongs_to for m in c.program.moves]


def test_places_are_seen_from_where_the_arm_stands():
    """The same cell moved as a whole has its stitches moved with it."""
    c = stitched()
    T = pose(rotation_about([0.0, 0.0, 1.0], 0.4), [0.3, -0.2, 0.1])
    moved = replace(c, T_world_base=frozen(T @ c.T_world_base))
    for name, point in c.points.items():
        if point.derived:
            assert np.allclose(point.T_base_tcp, moved.points[name].T_base_tcp, atol=1e-12)


def by_hand(c):
    """The same moves from point to point, each taught: no line of several moves in it."""
    points = {name: replace(point, derived=False) for name, point in c.points.items()}
    moves = tuple(replace(move, written=None) for move in c.program.moves)
    return replace(c, points=points, program=replace(c.program, moves=moves))


def test_numbers_and_cures_of_woven_stitches_are_those_of_seams_taught_by_hand():
    """What is looked at "what if" is looked at with the change, not with the line as written."""
    weave = Weave("w", Pattern.ZIGZAG, 0.006, 2.0)
    tight = body(box((0.05, 0.3, 0.2)), "wall", Role.FIXTURE, AT - [0.066, 0.0, -0.11])
    c = stitched(replace(ALONG, weave=weave), on=0.05, off=0.05).with_body(tight)
    one, two = check(c), check(by_hand(c))
    rooms = [f for f in two.findings if f.kind is FindingKind.WEAVE_ROOM]
    assert rooms and all("Reduce" in f.text for f in rooms)  # to what was tried and fits
    left_out = (FindingKind.PROGRAM_LINE, FindingKind.TRADE_PRACTICE, FindingKind.UNUSED)
    told = [sorted(f.text for f in r.findings if f.kind not in left_out) for r in (one, two)]
    assert told[0] == told[1]
    assert [s.text for s in one.seams] == [s.text for s in two.seams]

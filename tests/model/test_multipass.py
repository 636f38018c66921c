"""Passes: laid out by hand, saved as written, and their beads stand from their own pass on."""

from dataclasses import replace

import numpy as np
import pytest

from pathsim.check import check
from pathsim.errors import CellError, LineError
from pathsim.files import load_cell, save_cell
from pathsim.files.cell_differences import differences
from pathsim.findings import FindingKind, Level
from pathsim.geometry.containment import solid_of
from pathsim.model import Move, MoveKind, Multipass, Pass, Pattern, Point, Role, Schedule, Weave
from pathsim.model.beads import bead_area
from pathsim.model.laid_out import lines_of
from pathsim.model.process import Process
from pathsim.model.run import Run, Shift
from pathsim.model.turning_table import StandsOn
from pathsim.motion import plan_program
from pathsim.report.not_measured import not_measured
from pathsim.transforms import pose, rotation_about
from tests.advice.test_welds_untouched import AT, DOWN, small_cell
from tests.builders import body, box, cell, joint, linear, turning_table

ALONG = Move(MoveKind.LINEAR, "end", 0.006, arc_on=True, crater=0.4)
TO_START = (joint("above"), linear("start"))
AWAY = (linear("retract"), joint("home"))
WEAVE = Weave("cap", Pattern.SINE, 0.003, 2.0)
#: Torch straight down, travel along y: up is z, and left is -x.
LEFT, UP = np.array([-1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
FEED = Process(wire_feed=0.15)


def line(*passes, seam=ALONG, between=0.05, lift=0.04):
    return Multipass(seam, passes, between, lift).move


def in_passes(*passes, process=FEED, **of_line):
    c = small_cell([*TO_START, line(*passes, **of_line), *AWAY])
    return replace(c, process=process)


def pose_at(c, name):
    point = c.points[name]
    if point.q is not None:
        return c.tool_poses(point.q[None])[0]
    return c.T_world_base @ point.T_base_tcp


ROOT, FILL = Pass("root"), Pass("fill", left=0.002, up=0.004, lean_left=0.2, lean_ahead=0.1)
CAP = Pass("cap", left=-0.003, up=0.006, lean_ahead=0.1, reversed=True, weave=WEAVE, speed=0.004)


def test_passes_are_laid_out_in_closed_form():
    c = in_passes(ROOT, FILL, CAP)
    assert [(m.label, m.belongs_to) for m in c.program.moves[2:-2]] == [
        ("seam", "pass 1 of 3, root"), *[("linear", "between passes")] * 3,
        ("seam", "pass 2 of 3, fill"), *[("linear", "between passes")] * 3,
        ("seam", "pass 3 of 3, cap"),
    ]  # fmt: skip
    first, last = AT + [0.0, -0.1, 0.0], AT + [0.0, 0.1, 0.0]
    tips = [pose_at(c, m.target)[:3, 3] for m in c.program.moves[2:-2]]
    off, of_cap = 0.002 * LEFT + 0.004 * UP, -0.003 * LEFT + 0.006 * UP

    def up_wire(one):  # 40 mm straight back along the wire of a pass
        lean, ahead = (0.0, 0.0) if one is ROOT else (one.lean_left, one.lean_ahead)
        ahead = -ahead if one is CAP else ahead
        torch = rotation_about(-LEFT, -ahead) @ rotation_about([0.0, 1.0, 0.0], -lean) @ UP
        return 0.04 * torch

    assert np.allclose(tips, [
        last, last + up_wire(ROOT), first + off + up_wire(FILL), first + off,
        last + off, last + off + up_wire(FILL), last + of_cap + up_wire(CAP), last + of_cap,
        first + of_cap,
    ], atol=1e-9)  # fmt: skip
    seams = [m for m in c.program.moves if m.arc_on]
    assert [m.speed for m in seams] == [0.006, 0.006, 0.004]
    assert [m.weave for m in seams] == [None, None, WEAVE]
    assert c.program.moves[2].target == "end"  # taught, and not made anew


def test_a_torch_leans_to_the_side_that_is_said():
    """Leaning left its body goes to the left; ahead, along its own travel, also when reversed."""
    c = in_passes(ROOT, FILL, CAP)
    back = -pose_at(c, "end, fill end")[:3, 2]
    assert back @ LEFT == pytest.approx(np.sin(0.2), abs=2e-3) and back[1] > 0.09
    # the cap travels against y: leaning ahead its body is on the side of -y
    assert -pose_at(c, "end, cap end")[:3, 2][1] == pytest.approx(-np.sin(0.1), abs=1e-9)
    found = [f for f in check(c).seams if f.kind == FindingKind.TORCH_ANGLES]
    # both lean ahead along their own travel, so both are dragged, by as much
    assert [f.numbers["travel"] for f in found] == pytest.approx([0.0, 0.1, 0.1], abs=5e-3)


def test_a_pass_that_begins_where_the_torch_stands_needs_no_way_there():
    c = in_passes(ROOT, Pass("back", reversed=True), Pass("again"))
    assert [m.label for m in c.program.moves[2:-2]] == ["seam"] * 3
    # and one that begins elsewhere is come to from the taught start
    other = in_passes(Pass("first", up=0.003))
    assert [m.belongs_to for m in other.program.moves[2:-2]] == [
        *["between passes"] * 3, "pass 1 of 1, first",
    ]  # fmt: skip


def test_passes_beside_an_arc_are_arcs():
    """Round a centre, 3 mm to the left of the travel: the radius is 3 mm less."""
    c = in_passes(ROOT)
    for name, angle in {"start": -0.8, "middle": 0.1, "end": 0.8}.items():
        place = AT + 0.08 * np.array([np.cos(angle), np.sin(angle), 0.0])
        T = pose(rotation_about([0.0, 0.0, 1.0], angle) @ DOWN, place)
        c = c.with_point(name, T_world_tcp=T)
    seam = replace(ALONG, kind=MoveKind.ARC, via="middle")
    made = line(ROOT, Pass("inside", left=0.003, up=0.002), seam=seam)
    c = replace(c.with_program("home", *TO_START, made, *AWAY), process=FEED)
    tracks = [t for t in plan_program(c).tracks if t.move.arc_on]
    for track, radius, high in zip(tracks, (0.08, 0.077), (0.0, 0.002), strict=True):
        tips = c.tips(track.q) - AT
        assert np.allclose(np.hypot(*tips[:, :2].T), radius, atol=3e-5)
        assert np.allclose(tips[:, 2], high, atol=3e-5)
    over = next(m for m in c.program.moves if m.belongs_to == "between passes" and m.via)
    assert over.kind is MoveKind.ARC
    assert len(c.beads) == 2 and all(one.body for one in c.beads)


def test_areas_go_by_feed_and_speed_or_by_what_is_stated():
    """1.2 mm wire (1.131 mm2) at 150 mm/s over 6 mm/s: 28.3 mm2; the larger of two counts."""
    c = in_passes(ROOT)
    wire = np.pi / 4 * c.torch.wire_diameter**2

    def area(one, process=FEED, **of_line):
        made = in_passes(one, process=process, **of_line)
        return bead_area(made, next(m for m in made.program.moves if m.arc_on))

    assert area(ROOT) == pytest.approx(wire * 0.15 / 0.006)
    assert area(Pass("r", speed=0.012)) == pytest.approx(wire * 0.15 / 0.012)
    assert area(ROOT, Process(wire_feed=0.1, deposition=0.9)) == pytest.approx(
        0.9 * wire * 0.1 / 0.006
    )
    own = Schedule("hot", process=Process(wire_feed=0.2))
    assert area(Pass("r", schedule=own)) == pytest.approx(wire * 0.2 / 0.006)
    assert area(Pass("r", leg=0.01)) == pytest.approx(50e-6)
    assert area(Pass("r", leg=0.001)) == pytest.approx(wire * 0.15 / 0.006)
    assert area(Pass("r", leg=0.006), None) == pytest.approx(18e-6)
    assert area(Pass("r", height=0.003), None) == pytest.approx(9e-6 * np.tan(np.pi / 6))
    assert area(ROOT, None) is None
    stands = replace(WEAVE, dwell_left=0.1, dwell_right=0.1, travel_in_dwell="stands still")
    # 0.5 s of strokes and 0.2 s of standing: 1.4 times the wire
    assert area(Pass("r", weave=stands)) == pytest.approx(1.4 * wire * 0.15 / 0.006)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("lean", [-1.0, -0.3, 0.6, 1.0])
def test_a_bead_woven_aslant_holds_all_places_of_the_wires_end(lean, turned):
    """The wire swings square to the torch as it leans; what it leaves reaches as far."""
    wide = replace(WEAVE, amplitude=0.006)
    one = Pass("aslant", up=0.008, lean_left=lean, lean_ahead=0.3, reversed=turned, weave=wide)
    c = in_passes(one)
    (bead,), (track,) = c.beads, [t for t in plan_program(c).tracks if t.move.arc_on]
    tips = c.tips(track.q_at(np.linspace(track.t[0], track.t[-1], 400)))
    assert np.ptp(tips[:, 2]) > 0.003  # it swings up and down, the joint lies level
    solid = solid_of(bead.body.mesh)
    assert all(solid.holds(tip[None]) for tip in tips)
    # over the higher end of the stroke there is as much as over the lower
    assert bead.body.mesh.bounds[1][2] > tips[:, 2].max() + bead.body.section.centre


@pytest.mark.parametrize("taught", [-0.25, 0.0, 0.3])
@pytest.mark.parametrize("turned", [False, True])
def test_a_bead_lies_as_the_joint_was_taught_however_its_pass_leans(taught, turned):
    """Leaning left and ahead at once, the torch taught with a travel angle."""
    c = in_passes(ROOT)
    tilted = rotation_about([1.0, 0.0, 0.0], taught) @ DOWN
    for name, y in (("start", -0.1), ("end", 0.1)):
        c = c.with_point(name, T_world_tcp=pose(tilted, AT + [0.0, y, 0.0]))
    one = Pass("leaning", lean_left=0.8, lean_ahead=0.6, reversed=turned)
    c = replace(c.with_program("home", *TO_START, line(one), *AWAY), process=FEED)
    (bead,) = c.beads
    middle = bead.body.mesh.vertices.mean(axis=0) - AT
    assert np.allclose(middle, [0.0, 0.0, bead.body.section.centre], atol=1e-6)


def test_a_pass_in_the_line_of_an_earlier_one_is_drawn_for_both():
    """Two and three passes on one line, in one line or in runs: their wire makes one bead."""
    one = in_passes(ROOT).beads[0].body

    def drawn(c):
        return [b.body.section.area / one.area for b in c.beads if b.body is not None]

    assert drawn(in_passes(ROOT, Pass("again", reversed=True), Pass("cap"))) == pytest.approx(
        [1, 2, 3]
    )
    run = Run("seam", (linear("start"), line(ROOT)), 2)
    again = replace(small_cell([joint("above"), run.move, *AWAY]), process=FEED)
    assert drawn(again) == pytest.approx([1, 2])
    assert [b.body.area for b in again.beads] == pytest.approx([one.area] * 2)
    # a flat fillet of all that was laid is in it: its toes are a leg away on both plates
    (_, both) = again.beads
    toe = np.sqrt(2 * one.area) * np.array([1.0, 1.0])
    section = both.body.section
    assert np.hypot(toe[0], toe[1] - section.centre) < section.radius
    assert np.hypot(toe[0], toe[1] - one.section.centre) > one.section.radius
    # beside it or well above it, across it or at its end it is a bead of its own
    for off in (Pass("above", up=0.004), Pass("beside", left=0.005)):
        assert drawn(in_passes(ROOT, off)) == pytest.approx([1, 1])
    onward = Run("seam", (linear("start"), line(ROOT)), 2, step=Shift((0.0, 0.2, 0.0)))
    apart = replace(small_cell([joint("above"), onward.move, *AWAY]), process=FEED)
    assert drawn(apart) == pytest.approx([1, 1])


def test_a_bead_without_a_size_is_said_and_never_skipped():
    result = check(in_passes(ROOT, FILL, process=None))
    assert not result.is_clear
    said = [f for f in result.findings if f.kind is FindingKind.NOT_CHECKED and "bead" in f.text]
    assert [(f.level, f.move) for f in said] == [(Level.WATCH, 3), (Level.WATCH, 7)]
    assert "Give 'wire feed' under 'process', or the pass a 'leg' or 'height'." in said[0].text
    lacking = [item for item in result.left_out if not item.is_agreed and "bead" in item.what]
    assert [item.moves for item in lacking] == [(4, 5, 6, 7, 8, 9), (8, 9)]
    assert not_measured(result)[1:] == (  # the first is about links
        "the bead of 'root' from move 4 on, for want of its size",
        "the bead of 'fill' from move 8 on, for want of its size",
    )
    assert len(not_measured(check(in_passes(ROOT, FILL)))) == 1


def test_the_report_says_from_which_move_on_each_bead_stands():
    result = check(in_passes(ROOT, FILL))
    said = [item for item in result.left_out if item.what.startswith("the bead of")]
    assert [(item.is_agreed, item.moves) for item in said] == [
        (True, (1, 2, 3)), (True, tuple(range(1, 8))),
    ]  # fmt: skip
    assert "its own pass, move 7, lays it; from move 8 on it counts as a part" in said[1].why


def test_what_a_bead_rides_on():
    """On a table it stands on the table; where its part stands on the floor, on the floor."""
    table = turning_table()
    base = small_cell([*TO_START, line(ROOT), *AWAY])
    points = {n: Point(n, np.append(p.q, 0.3)) for n, p in base.points.items() if not p.derived}
    plate = box((0.3, 0.4, 0.01))
    at = AT - [0.0, 0.0, 0.0055]

    def made(*bodies):
        return replace(
            cell(points, [*TO_START, line(ROOT), *AWAY], table=table, bodies=list(bodies)),
            process=FEED,
        )

    still = body(plate, "plate", Role.PART, at)
    turned = rotation_about([0.0, 0.0, 1.0], -0.3)  # so that the table at 0.3 rad brings it there
    carried = replace(
        body(plate, "other", Role.PART, on_table=True), T_world_body=pose(turned, turned @ at)
    )
    below = pose(np.eye(3), AT + [0.0, 0.0, -0.4])
    for bodies, stands_on in (
        ((still,), StandsOn.FLOOR), ((carried,), StandsOn.TABLE), ((), StandsOn.TABLE),
        ((still, replace(carried, T_world_body=below)), StandsOn.FLOOR),
        ((replace(still, T_world_body=below), carried), StandsOn.TABLE),
    ):  # fmt: skip
        c = made(*bodies)
        (bead,) = c.beads
        assert bead.body.stands_on is stands_on
        T = np.eye(4)
        if stands_on is StandsOn.TABLE:
            T = c.table_motion(np.append(np.zeros(6), 0.3)[None])[0]
        low, high = bead.body.mesh.moved(T).bounds
        middle = (low + high) / 2 - AT
        assert np.allclose(middle[:2], 0.0, atol=1e-6)
        assert high[2] - AT[2] == pytest.approx(bead.body.section.top, abs=1e-5)


def test_beads_of_runs_are_of_each_run():
    lines = (linear("start"), line(ROOT), linear("low"))
    run = Run("seam", lines, 2, step=Shift((0.03, 0.0, 0.0)))
    c = replace(small_cell([joint("above"), run.move, *AWAY]), process=FEED)
    names = [(one.name, one.laid_by) for one in c.beads]
    assert names == [("bead of 'root'", 2), ("bead of 'root' (2)", 5)]
    one, two = (b.body.mesh.bounds for b in c.beads)
    assert np.allclose(two - one, [0.03, 0.0, 0.0], atol=1e-6)


def test_it_is_saved_as_it_was_written(tmp_path):
    schedule = Schedule("fill", preflow=0.2, process=Process(wire_feed=0.2))
    made = Multipass(
        ALONG, (ROOT, FILL, CAP, Pass("last", schedule=schedule, crater=0.7, height=0.003)),
        0.05, 0.04,
    ).waiting(2).move  # fmt: skip
    c = replace(small_cell(TO_START), process=FEED).with_program("home", *TO_START, made, *AWAY)
    assert (c.weaves, c.schedules) == (("cap",), ("fill",))
    folder = save_cell(c, tmp_path / "passes")
    text = (folder / "cell.yaml").read_text(encoding="utf-8")
    assert text.count("multipass:") == 1 and "lean left" in text and "reversed: true" in text
    assert "fill start" not in (folder / "points.csv").read_text(encoding="utf-8")
    loaded = load_cell(folder)
    assert list(differences(c, loaded)) == []
    assert [m.belongs_to for m in loaded.program.moves] == [m.belongs_to for m in c.program.moves]
    for mine, theirs in zip(c.beads, loaded.beads, strict=True):
        assert np.allclose(mine.body.mesh.vertices, theirs.body.mesh.vertices, atol=1e-8)


def test_a_line_stays_whole_and_what_does_not_fit_is_refused():
    c = in_passes(ROOT, FILL)
    moves = c.program.moves
    with pytest.raises(CellError, match="a multipass is one line of the program"):
        c.with_program("home", *moves[:4], *moves[5:])
    assert [m.label for m in lines_of(c.program)] == ["joint", "linear", "seam", "linear", "joint"]
    with pytest.raises(CellError, match="name of a pass"):
        line(ROOT, ROOT)
    with pytest.raises(CellError, match="left: came"):
        Pass("far", left=0.2)
    with pytest.raises(CellError, match="a leg or a height, not both"):
        Pass("both", leg=0.004, height=0.004)
    with pytest.raises(CellError, match="1 to 50"):
        line()
    with pytest.raises(LineError, match="the line has no length"):
        in_passes(ROOT, seam=replace(ALONG, target="start"))
    with pytest.raises(LineError, match="points along the line"):
        flat = pose(rotation_about([1.0, 0.0, 0.0], -np.pi / 2), AT + [0.0, -0.1, 0.0])
        assert flat[:3, 2] @ [0.0, 1.0, 0.0] == pytest.approx(1.0)
        in_passes(FILL).with_point("start", T_world_tcp=flat)


@pytest.mark.parametrize("turned_round", [False, True])
def test_a_bead_lies_as_the_joint_was_taught_and_stands_straight_over_its_line(turned_round):
    """A pass that leans 0.5 rad, there or back: its bead stands straight over the taught line."""
    one = Pass("leaning", left=0.003, lean_left=0.5, reversed=turned_round)
    c = in_passes(one)
    (bead,) = c.beads
    low, high = bead.body.mesh.bounds
    section = bead.body.section
    assert high[2] - AT[2] == pytest.approx(section.top, abs=1e-5)
    assert (low[0] + high[0]) / 2 == pytest.approx(AT[0] - 0.003, abs=1e-6)
    assert high[0] - low[0] == pytest.approx(2 * section.half_width, abs=1e-4)

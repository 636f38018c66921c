"""Weld schedules: their times count in order, and change nothing of where the torch goes."""

from dataclasses import replace

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance.reference.engine import TOLERANCE
from pathsim.errors import CellError
from pathsim.files import load_cell, save_cell
from pathsim.files.cell_differences import differences
from pathsim.findings import FindingKind
from pathsim.model import Move, MoveKind, Pattern, Schedule, Stitch, Weave, tack
from pathsim.model.process import Process
from pathsim.motion import plan_program
from pathsim.report.motion_table import motion_columns, motion_rows
from pathsim.report.sheet_content import sheet_content
from tests.advice.test_welds_untouched import small_cell
from tests.builders import joint, linear

FULL = Schedule("full", 0.5, 0.25, 0.125, 0.4, 0.1, 0.8)
SEAM = Move(MoveKind.LINEAR, "end", 0.01, arc_on=True)
WEAVE = Weave("w", Pattern.ZIGZAG, 0.002, 2.0)
TO_START = (joint("above"), linear("start"))
AWAY = (linear("retract"), joint("home"))


def tracks_of(*moves):
    c = small_cell([*TO_START, *moves, *AWAY])
    c = c.with_program("home", *c.program.moves)  # which names its schedules
    return c, [t for t in plan_program(c).tracks if t.move.arc_on]


def test_each_step_has_its_time_in_its_order():
    """200 mm at 10 mm/s: 20 s of travel behind 0.75 s, before 0.625 s of arc and 0.8 s of gas."""
    c, (track,) = tracks_of(replace(SEAM, schedule=FULL, wait=2.0))
    assert track.duration == pytest.approx(0.75 + 20.0 + 0.625 + 0.8 + 2.0)
    assert track.travel_seconds == pytest.approx(20.0)
    assert track.travel_start - track.t[0] == pytest.approx(0.75)
    assert track.arc_seconds == pytest.approx(0.25 + 20.0 + 0.625)
    assert track.planned_duration == pytest.approx(track.duration)
    tips = c.tips(track.q_at(track.t[0] + np.array([0.0, 0.75, 10.75, 20.75, 21.3, 24.0])))
    way = np.linalg.norm(tips - tips[0], axis=1)
    assert np.allclose(way, [0.0, 0.0, 0.1, 0.2, 0.2, 0.2], atol=1e-4)
    # at half the speed the travel takes twice the time, and nothing else
    slow = plan_program(replace(c, override=0.5)).tracks[2].slow_duration
    assert slow == pytest.approx(track.duration + 20.0, abs=1e-6)


def test_a_seam_that_ends_out_of_reach_never_gets_to_what_is_behind_it():
    """Its crater, gas and wait are no part of what was laid: no time is below zero."""
    c, _ = tracks_of(replace(SEAM, speed=0.5, schedule=FULL, crater=3.0, wait=60.0))
    T = c.tool_poses(c.points["end"].q[None])[0].copy()
    T[0, 3] += 3.0
    far = c.with_point("end", T_world_tcp=T)
    (track,) = [t for t in plan_program(far).tracks if t.move.arc_on]
    assert track.fault is not None and track.duration > 0
    assert track.travel_seconds == track.arc_seconds == track.duration


def test_the_arc_is_on_from_start_to_burnback():
    c, (track,) = tracks_of(replace(SEAM, schedule=FULL))
    column = motion_columns(c).index("arc on")
    rows = [row for row in motion_rows(c, plan_program(c)) if row[1] == 3.0]
    on = [row[0] for row in rows if row[column]]
    assert on[0] == pytest.approx(track.t[0] + 0.5)
    assert on[-1] == pytest.approx(track.t[-1] - 0.8)


@pytest.mark.parametrize("weave", [None, WEAVE])
def test_where_the_torch_goes_stays_the_same(weave):
    """Clearances and the seam's numbers are those of the same seam without a schedule."""
    plain, (one,) = tracks_of(replace(SEAM, weave=weave))
    told, (two,) = tracks_of(replace(SEAM, weave=weave, schedule=FULL))
    assert np.array_equal(one.q, two.q[2 : 2 + len(one.q)])
    assert np.allclose(one.t - one.t[0] + 0.75, (two.t - two.t[0])[2 : 2 + len(one.t)])
    a, b = check(plain), check(told)
    for mine, theirs in zip(a.moves, b.moves, strict=True):
        assert [p.clearance.lower for p in mine.pairs] == pytest.approx(
            [p.clearance.lower for p in theirs.pairs], abs=TOLERANCE
        )
    for kind in (FindingKind.TORCH_ANGLES, FindingKind.WEAVE, FindingKind.WELD_POSITION):
        said = [[s.numbers for s in r.seams if s.kind is kind] for r in (a, b)]
        assert len(said[0]) == len(said[1])
        for x, y in zip(*said, strict=True):
            assert x == pytest.approx(y, abs=1e-6)
    places = [r.seam_places[0] for r in (a, b)]
    assert places[0].least.distance == pytest.approx(places[1].least.distance, abs=1e-6)
    rooms = [[f.text for f in r.findings if f.kind is FindingKind.WEAVE_ROOM] for r in (a, b)]
    assert len(rooms[0]) == len(rooms[1])


def test_wire_and_heat_are_of_the_seam_s_own_values():
    """By hand: 21.35 s of full feed less what ramp and crater take, none in the burnback."""
    own = Process(wire_feed=0.1, voltage=25.0, current=200.0, crater_feed=0.05)
    c, _ = tracks_of(replace(SEAM, schedule=replace(FULL, process=own)))
    note = next(s for s in check(replace(c, process=Process(wire_feed=0.2))).seams
                if s.kind is FindingKind.PROCESS)  # fmt: skip
    assert note.numbers["wire"] == pytest.approx(20.25 * 0.1 + 0.4 * 0.05 + 0.125 * 0.075)
    assert note.numbers["heat"] == pytest.approx(25 * 200 / 0.01)
    assert "schedule 'full': preflow 0.5 s, start 0.25 s, ramp 0.125 s, crater 0.4 s" in note.text


def test_joined_pieces_share_one_schedule(tmp_path):
    first = replace(SEAM, target="middle", schedule=FULL.without_end())
    second = replace(SEAM, joined=True, schedule=FULL.without_start())
    c, (one, two) = tracks_of(first, second)
    assert one.duration == pytest.approx(10.75) and two.duration == pytest.approx(10 + 1.425)
    assert list(differences(c, load_cell(save_cell(c, tmp_path / "joined")))) == []
    with pytest.raises(CellError, match="without crater time, postflow and wait"):
        tracks_of(replace(first, schedule=FULL), second)


@pytest.mark.parametrize("process", [None, Process(wire_feed=0.1)])
def test_stitches_and_tacks_have_it_too(tmp_path, process):
    named = replace(FULL, process=process)
    line = Stitch(replace(SEAM, schedule=named), 0.04, 0.04, 0.05).move
    c, found = tracks_of(replace(tack("start", 1.0), schedule=named), line)
    spot, *stitches = found
    # a tack's time is all of its arc: start, ramp, crater and burnback lie within it
    assert spot.duration == pytest.approx(0.5 + 1.0 + 0.8)
    assert spot.arc_seconds == pytest.approx(1.0)
    assert spot.move.crater_time == pytest.approx(named.crater)
    with pytest.raises(
        CellError, match=r"time of the tack: came 0\.5; expected at least the 0\.875"
    ):
        replace(tack("start", 0.5), schedule=named)
    assert [t.duration for t in stitches] == pytest.approx([0.75 + 4.0 + 1.425] * 3)
    loaded = load_cell(save_cell(c, tmp_path / "cell"))
    assert list(differences(c, loaded)) == []


def test_what_nobody_uses_is_said():
    c, _ = tracks_of(SEAM)
    texts = [f.text for f in check(replace(c, schedules=("full",))).findings]
    assert any("Schedule 'full': no seam uses it" in text for text in texts)
    with pytest.raises(CellError, match="preflow: came"):
        Schedule("long", preflow=1e4)


def test_the_sheet_counts_the_arc_as_the_check_does():
    """Gas alone, waits and pauses are no arc time, on the sheet either."""
    c, (track,) = tracks_of(replace(SEAM, schedule=FULL, wait=2.0))
    content = sheet_content(check(c), "files", "2031-01-01", ())
    assert track.arc_seconds == pytest.approx(20.875)
    assert "arc on 20.9 s" in content.totals
    assert any("schedule full" in row.way for row in content.rows)

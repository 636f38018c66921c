"""What if a line of several moves were otherwise: the moves count, not what was written."""

from dataclasses import replace

import numpy as np
import pytest

from pathsim.check import check
from pathsim.findings import FindingKind, Level
from pathsim.findings.acceleration import woven_share
from pathsim.findings.centre_line import centre_tracks
from pathsim.findings.finding import Evidence
from pathsim.findings.what_if import laid_with
from pathsim.model import Move, MoveKind, Pattern, Role, Stitch, Weave
from pathsim.model.laid_out import moves_of_lines
from pathsim.model.run import Run
from pathsim.motion import plan_program
from tests.advice.test_welds_untouched import small_cell
from tests.builders import body, box, joint, linear

WEAVE = Weave("fillet", Pattern.SINE, 0.003, 3.0)
SEAM = Move(MoveKind.LINEAR, "end", 0.006, arc_on=True, crater=0.4, weave=WEAVE)
BEFORE, BEHIND = (joint("above"), linear("start")), (linear("retract"), joint("home"))
STITCH = Stitch(SEAM, 0.02, 0.02, 0.05).move


@pytest.mark.parametrize(
    "lines",
    [
        (*BEFORE, STITCH, *BEHIND),
        (Run("weld", (*BEFORE, SEAM, *BEHIND)).move,),
        (Run("weld", (*BEFORE, STITCH, *BEHIND)).move,),
    ],
)
def test_the_centre_of_a_woven_line_has_no_weave(lines):
    c = small_cell(lines)
    plain, tracks = centre_tracks(c), plan_program(c).tracks
    woven = [track for track in tracks if track.move.weave is not None]
    assert woven and not any(track.move.weave for track in plain.tracks)
    for track in woven:
        centre = plain.tracks[track.index]
        assert (centre.start, centre.move.target) == (track.start, track.move.target)
        tips = c.tips(centre.q)
        way = tips[-1] - tips[0]
        off = np.linalg.norm(np.cross(tips - tips[0], way), axis=1) / np.linalg.norm(way)
        assert off.max() < 1e-4
        assert woven_share(c, track).max() > 0.01


def test_a_weave_that_is_tried_on_a_line_is_laid():
    c = small_cell((*BEFORE, STITCH, *BEHIND))
    laid = plan_program(c)
    evidence = Evidence(c, laid, ())
    other = replace(WEAVE, amplitude=0.001)
    moves = [replace(m, weave=other) if m.weave else m for m in c.program.moves]
    tried = laid_with(evidence, moves=moves)
    (first, *_), (second, *_) = ([t for t in one.tracks if t.move.weave] for one in (laid, tried))
    assert second.move.weave == other
    assert first.start == second.start and first.move.target == second.move.target
    # Its points may be otherwise too, those that nobody taught among them.
    target = first.move.target
    q = first.q[-1] + 1e-3
    moved = laid_with(evidence, {target: q})
    np.testing.assert_allclose(moved.tracks[first.index].q[-1][:6], q, atol=1e-5)
    assert moves_of_lines(c.program)[2][1] > 1


def test_a_joint_move_of_a_run_that_touches_is_a_stop():
    lines = (*BEFORE, replace(SEAM, weave=None), linear("retract"), joint("home"))
    c = small_cell((Run("weld", lines).move,))
    track = plan_program(c).tracks[-1]
    tip = c.tips(track.q_at([(track.t[0] + track.t[-1]) / 2]))[0]
    post = body(box((0.05, 0.05, 0.05)), "post", Role.OTHER, tip)
    found = check(c.with_body(post)).findings
    stops = [f for f in found if f.level is Level.STOP and f.kind is FindingKind.CONTACT]
    assert (track.number, "post") in [(f.move, f.body) for f in stops]

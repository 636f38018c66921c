"""A clamp in whose axes a run is shifted: what would take its welds along is left, and said."""

import json
from dataclasses import replace

import numpy as np
import pytest

from pathsim.advice import Evaluator
from pathsim.advice.advise import advise_on
from pathsim.advice.cell_proposal import CellChangeKind
from pathsim.advice.cure_text import advice_in_words
from pathsim.model import Group, Move, MoveKind, Role
from pathsim.model.run import Run, Shift
from pathsim.report.advice_json import advice_as_json
from pathsim.session import Session
from pathsim.transforms import pose
from tests.advice.test_welds_untouched import AT, small_cell
from tests.builders import body, box, joint, linear

SEAM = Move(MoveKind.LINEAR, "end", 0.02, arc_on=True, crater=0.4)
WELD = (joint("above"), linear("start"), SEAM, linear("retract"))
MOVED, TURNED = CellChangeKind.CLAMP_MOVED, CellChangeKind.CLAMP_TURNED
ASIDE = Shift((0.001, 0.0, 0.0))
LIFT = Shift((0.0, 0.0, 0.001))
SPIN = Shift(turned=(0.0, 0.0, np.radians(0.05)))
LEAN = Shift(turned=(np.radians(0.05), 0.0, 0.0))


def advice_for(shift, frame, group=""):
    """A long clamp across the seam's end, that a move or a turn takes out of the torch's way."""
    stop = body(box((0.30, 0.02, 0.30)), "stop", Role.CLAMP, AT + [0.10, 0.115, 0.15])
    c = small_cell([joint("home")])
    if group:
        c, stop = c.with_group(Group(group, pose(np.eye(3), AT))), replace(stop, group=group)
    c = c.with_body(stop)
    run = Run("feet", WELD, shift=shift, frame=frame)
    evaluator = Evaluator(c.with_program("home", run.move, joint("home")), Session())
    findings = evaluator.before.findings
    mine = [n for n, f in enumerate(findings, 1) if (f.body, f.move) == ("stop", 3)]
    one = advise_on(evaluator, mine[0])
    assert not one.proposals
    return evaluator, one


def looked_at(one):
    """Which changes of the clamp were proposed, or tried in vain."""
    tried = " ".join(one.tried_on_cell)
    proposed = {p.change.kind for p in one.of_cell}
    words = {MOVED: "moving the stop", TURNED: "turning the stop"}
    return {kind for kind, text in words.items() if kind in proposed or text in tried}


@pytest.mark.parametrize(
    ("shift", "frame", "group", "left"),
    [
        (ASIDE, "world", "", set()),
        (ASIDE, "stop", "", {TURNED}),  # its origin has no say in a shift that turns nothing
        (LIFT, "stop", "", set()),  # nor have its axes in one along the vertical
        (SPIN, "stop", "", {MOVED}),
        (LEAN, "stop", "", {MOVED, TURNED}),
        (SPIN, "jig", "jig", set()),  # the jig stays where it is
    ],
    ids=["world", "aside", "lift", "spin", "lean", "jig"],
)
def test_what_takes_a_run_along_is_left_alone_and_said(shift, frame, group, left):
    evaluator, one = advice_for(shift, frame, group)
    assert looked_at(one) == {MOVED, TURNED} - left
    said = one.not_tried_on_cell
    assert len(said) == len(left)
    for text, kind in zip(said, sorted(left, key=str), strict=True):
        how = "moved" if kind is MOVED else "turned"
        assert text.startswith(f"The stop was not {how}: the run of 'feet' is shifted in its axes")
    assert set(said) <= set(advice_in_words(one))
    told = json.loads(advice_as_json(evaluator.before, (one,)))["advice"][0]
    assert told["not_tried_on_cell"] == list(said)
    for proposal in one.of_cell:  # no weld lies elsewhere with it
        new = proposal.change.cell.points
        for name, point in evaluator.cell.points.items():
            if point.q is not None and proposal.change.kind in (MOVED, TURNED):
                assert np.allclose(point.q, new[name].q, atol=1e-9)

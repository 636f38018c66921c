"""Hits on a body of doubtful unit are told with the doubt; what to settle first is said."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from pathsim.advice import Evaluator, advise
from pathsim.advice.cure_text import cure_in_words
from pathsim.advice.kinds import NEAR
from pathsim.files import load_cell
from pathsim.findings.kinds import FindingKind
from pathsim.model import Body, Role
from pathsim.report.advice_json import advice_as_json
from pathsim.session import Session
from pathsim.transforms import frozen, translation
from tests.advice.test_advise import SAMPLES
from tests.builders import box


@pytest.fixture(scope="module")
def doubted():
    """A clamp longer than any, in the way where the sample's torch meets its own clamp too."""
    cell = load_cell(SAMPLES / "gate_hinge_no_retract")
    session = Session()
    hit = next(f for f in session.check(cell).findings if f.kind == FindingKind.CONTACT)
    track = session.plan(cell).tracks[hit.move - 1]
    moment = track.t[0] + 0.5 * track.duration
    tip = cell.tool_poses(track.q_at([moment]))[0, :3, 3]
    beam = Body("long clamp", Role.CLAMP, box((0.03, 1.7, 0.03)), frozen(translation(tip)))
    evaluator = Evaluator(replace(cell, bodies=(*cell.bodies, beam)), session)
    return evaluator, advise(evaluator)


def test_the_hits_of_a_doubted_body_are_not_passed_over_in_silence(doubted):
    evaluator, advice = doubted
    one = next(a for a in advice if a.finding.kind == FindingKind.UNLIKELY_UNIT)
    hits = [f for f in one.finding.explains if f.kind in NEAR]
    assert len(hits) >= 2 and not one.proposals
    said = " ".join(cure_in_words(evaluator, one.number))
    assert "Settle its unit first: 'pathsim mesh FILE'" in said
    assert f"Its {len(hits)} hits get advice of their own once that is settled." in said
    assert all(len(sentence.split()) <= 20 for sentence in said.split(". "))


def test_a_cure_counts_what_is_listed_and_not_what_is_told_with_a_doubt(doubted):
    evaluator, advice = doubted
    listed = evaluator.before.findings
    proposals = [p for one in advice for p in (*one.proposals, *one.of_cell)]
    assert proposals
    assert all(any(f is g for g in listed) for p in proposals for f in p.cures)
    document = json.loads(advice_as_json(evaluator.before, advice))
    cured = [n for one in document["advice"] for p in one["proposals"] for n in p["cures"]]
    assert cured and max(cured) <= len(listed)


def test_once_the_role_is_right_the_same_hits_have_advice(doubted):
    evaluator, _ = doubted
    cell = evaluator.cell
    right = replace(cell.bodies[-1], role=Role.OTHER)
    again = Evaluator(replace(cell, bodies=(*cell.bodies[:-1], right)), evaluator.session)
    assert not [f for f in again.before.findings if f.kind == FindingKind.UNLIKELY_UNIT]
    mine = [a for a in advise(again) if a.finding.body == "long clamp" and a.finding.kind in NEAR]
    assert mine and all(a.proposals or a.never or a.tried for a in mine)

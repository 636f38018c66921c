"""Advice where a cable is what hits."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from pathsim.advice import Evaluator, advise
from pathsim.files import load_cell
from pathsim.model import Cable
from pathsim.session import Session

SAMPLES = Path(__file__).parents[2] / "sample_cells"


def test_a_cable_that_hits_on_a_seam_may_be_tied_otherwise():
    advice = advise(Evaluator(load_cell(SAMPLES / "loose_cable"), Session()))
    (one,) = [a for a in advice if a.never and a.finding.piece is not None]
    assert one.finding.piece == "torch cable" and "tied closer" in one.never
    assert not one.proposals


def test_a_proposal_keeps_the_cable_clear_too():
    """The missing retract point again: with a cable it has to serve for the cable as well."""
    cell = load_cell(SAMPLES / "gate_hinge_no_retract")
    points = np.array([[0, 20, 80], [0, 32, 140], [0, 32, 180]]) / 1e3
    cell = replace(cell, cables=(Cable("torch cable", 6, points, 0.01, 0.01, 0.015),))
    found = [a.proposals[0] for a in advise(Evaluator(cell, Session())) if a.proposals]
    assert found
    for proposal in found:
        pairs = [p for m in proposal.after.moves for p in m.pairs if p.piece == "torch cable"]
        assert pairs and all(pair.clearance.lower >= pair.margin == 0.015 for pair in pairs)

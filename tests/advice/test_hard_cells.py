"""The benchmark of hard cells: always the same cells, and proofs that notice what is wrong."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np

from pathsim.advice import Evaluator
from pathsim.advice.planned import planned
from pathsim.files import load_cell
from pathsim.findings.places import lifted
from pathsim.session import Session
from tests.advice.test_advise import SAMPLES
from tests.benchmarks.advice_hard import _rows_in
from tests.benchmarks.hard_cells import KINDS, hard_cell
from tests.benchmarks.hard_proofs import disproved, is_harmful


def test_a_hard_cell_is_always_the_same():
    for seed in (0, 7):
        one, other = hard_cell(seed), hard_cell(seed)
        assert one.name == other.name and one.kind in KINDS
        places = [np.stack([b.T_world_body for b in each.cell.bodies]) for each in (one, other)]
        assert np.array_equal(*places)
        assert [b.mesh.vertices.tolist() for b in one.cell.bodies] == [
            b.mesh.vertices.tolist() for b in other.cell.bodies
        ]


def test_what_is_wrong_with_a_change_is_noticed():
    evaluator = Evaluator(load_cell(SAMPLES / "gate_hinge_no_retract"), Session())
    track = evaluator.before.trajectory.tracks[-1]
    best = next(planned(evaluator, track)).change
    assert not is_harmful(evaluator, best) and not disproved(evaluator, best)
    # Half way down to the weld it meets the clamp, as the sample says.
    ((name, q),) = best.points.items()
    tips = evaluator.cell.tool_poses(np.stack([track.q[0], q]))[:, :3, 3]
    way = tips[1] - tips[0]
    low = lifted(evaluator.cell, track.q[0], way / np.linalg.norm(way), 0.010)
    lower = replace(best, points={name: low})
    told = evaluator.full(lower)
    evaluator._full[lower] = replace(told, findings=())  # as if the check had missed it
    assert disproved(evaluator, lower).startswith("reference: ")


def test_a_run_goes_on_from_the_cells_that_are_done(tmp_path):
    path = tmp_path / "rows.jsonl"
    assert _rows_in(path) == {} and _rows_in(None) == {}
    rows = [{"name": "a", "sections": []}, {"name": "b", "sections": []}]
    path.write_text("".join(json.dumps(row) + "\n" for row in rows))
    assert _rows_in(path) == {"a": rows[0], "b": rows[1]}

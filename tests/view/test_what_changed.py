"""What a saving changed, said in a line."""

from pathlib import Path

import pytest

import pathsim
from pathsim.view.what_changed import what_changed

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture(scope="module")
def results():
    return [pathsim.check(pathsim.load_cell(SAMPLES / name))
            for name in ("gate_hinge_no_retract", "gate_hinge")]  # fmt: skip


def test_what_a_saving_changed_is_said(results):
    worse, better = results
    said = what_changed(worse, better)
    assert said.startswith("Checked again: 4 gone, ") and "longer" in said
    assert what_changed(better, worse).startswith("Checked again: 4 new, ")
    assert what_changed(worse, worse) == "Checked again: stop and watch findings as before."

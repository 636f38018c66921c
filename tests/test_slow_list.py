"""The list of slow tests names tests that are there, and CI runs them."""

import subprocess
import sys
from pathlib import Path

from tests.slow_list import slow_tests

ROOT = Path(__file__).parents[1]


def test_every_slow_test_is_there():
    files = sorted({name.split("::")[0] for name in slow_tests()})
    asked = [sys.executable, "-m", "pytest", "--collect-only", "-m", "slow", *files]
    run = subprocess.run(asked, capture_output=True, text=True, cwd=ROOT, check=True)
    found = set(run.stdout.splitlines())
    assert set(slow_tests()) - found == set()


def test_ci_runs_both_halves():
    text = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "python -m pytest -n 2 -rs |" in text and "python -m pytest -n 2 -rs -m slow |" in text

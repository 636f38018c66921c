"""Whole checks by two versions of the sources, in turn, in one run: how many times as fast.

    python -m tests.benchmarks.against REVISION [CASE ...]

CPU time of ``check`` with its placement tolerances, kernels loaded and trees on disk, the least of
some rounds. The other version is checked out into a temporary folder and given the scenes of this
one; it has to know what they are made of. Beside both: bisection with python-fcl's exact distances
over the same knots, where a program is so short that it ends.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
_FILES = ("against.py", "whole_scenes.py")
#: Checks a process, the first of which does not count; processes of each version; and how many
#: moves bisection is still run on.
_CHECKS, _TURNS, _FEW_MOVES = 4, 2, 8


def least(case: str) -> float:
    """CPU seconds of the quickest of some whole checks in this process."""
    from pathsim.check import check
    from pathsim.clearance import engine_for
    from tests.benchmarks.whole_scenes import CASES

    took = []
    for _ in range(_CHECKS):
        cell = CASES[case]()
        for body in cell.bodies:
            _ = body.mesh.digest
        engine = engine_for(cell)
        if engine.note:
            raise SystemExit(f"this is not the fast engine: {engine.note}")
        start = time.process_time()
        _ = check(cell, engine=engine).placement
        took.append(time.process_time() - start)
    return min(took[1:])


def by(folder: Path, case: str) -> float:
    """The same by the sources in a folder, in a process of its own."""
    run = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.against", "--one", case],
        cwd=folder, env={**os.environ, "PYTHONPATH": str(folder)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if run.returncode:
        raise SystemExit(f"{case}, in {folder.name}:\n{run.stderr[-2000:]}")
    return float(run.stdout.split()[-1])


def bisected(case: str) -> float | None:
    """CPU seconds of laying and bisection with python-fcl; None where that takes too long."""
    from pathsim.motion import plan_program
    from tests.benchmarks.clearance_peers import bisection
    from tests.benchmarks.whole_scenes import CASES

    cell = CASES[case]()
    if len(cell.program.moves) > _FEW_MOVES:
        return None
    start = time.process_time()
    trajectory = plan_program(cell)
    laying = time.process_time() - start
    return laying + bisection(cell, trajectory)[0]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("revision", nargs="?")
    parser.add_argument("cases", nargs="*", help="cases, by the beginning of their names")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one:
        print(least(given.one))
        return
    if not given.revision:
        parser.error("which revision?")
    from tests.benchmarks.whole_scenes import CASES

    names = [n for n in CASES if not given.cases or n.startswith(tuple(given.cases))]
    with tempfile.TemporaryDirectory() as place:
        other = Path(place) / "other"
        git = ["git", "-C", str(ROOT), "worktree"]
        subprocess.run([*git, "add", "-q", "--detach", str(other), given.revision], check=True)
        try:
            for name in _FILES:
                shutil.copy(ROOT / "tests/benchmarks" / name, other / "tests/benchmarks" / name)
            for folder in (other, ROOT):
                subprocess.run(
                    [sys.executable, "-m", "pathsim.clearance.swept.warm_up"],
                    cwd=folder, env={**os.environ, "PYTHONPATH": str(folder)}, check=True,
                )  # fmt: skip
            for name in names:
                turns = [(by(other, name), by(ROOT, name)) for _ in range(_TURNS)]
                before, now = (min(turn[k] for turn in turns) for k in range(2))
                peer = bisected(name)
                beside = "" if peer is None else f"; bisection {peer:.2f} s, {peer / now:.0f} times"
                print(f"{name:22} {1e3 * before:9.1f} ms  {1e3 * now:9.1f} ms  "
                      f"{before / now:5.1f} times as fast{beside}", flush=True)  # fmt: skip
        finally:
            subprocess.run([*git, "remove", "--force", str(other)], check=False)


if __name__ == "__main__":
    main()

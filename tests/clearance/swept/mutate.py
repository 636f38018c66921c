"""Break each term of each bound, one at a time, and see which test notices.

    python -m tests.clearance.swept.mutate [name ...]

Works on a copy in a temporary folder; prints a table of what was broken and what caught it.
Exit code 1 when something went unnoticed. Each mutation compiles the kernels anew: the whole
takes about an hour and a half.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.clearance.swept.mutations import MUTATIONS

ROOT = Path(__file__).parents[3]


def pattern_of(text: str) -> re.Pattern[str]:
    """Return what finds a text however its lines are broken."""
    pattern = r"\s+".join(re.escape(word) for word in text.split())
    return re.compile(re.sub(r"\\([(\[])", r"\\\1\\s*", pattern))


def misplaced(folder: Path) -> list[str]:
    """Return the mutations whose text does not stand exactly once where it is looked for."""
    return [
        name
        for name, (file, text, _) in MUTATIONS.items()
        if len(pattern_of(text).findall((folder / "pathsim" / file).read_text())) != 1
    ]


def in_order(folder: Path) -> list[Path]:
    """Return the test files, those first that look at single bounds: they fail soonest."""
    swept = folder / "tests/clearance/swept"
    first = [swept / f"test_{name}.py" for name in ("motion_bound", "broad_phase", "claims")]
    # That the texts of the mutations are found is no test of a bound: a mutated text is not found.
    skip = [*first, swept / "test_mutations.py"]
    others = [path for path in sorted(swept.glob("test_*.py")) if path not in skip]
    return [*first[:2], folder / "tests/geometry", *first[2:], *others]


def caught_by(name: str, folder: Path) -> list[str]:
    """Apply one mutation to a copy of the sources and return the tests that fail."""
    file, text, changed = MUTATIONS[name]
    path = folder / "pathsim" / file
    source = path.read_text()
    mutated, count = pattern_of(text).subn(lambda _: changed.strip(), source)
    if count != 1:
        raise SystemExit(f"{name}: the text to change stands {count} times in {file}")
    path.write_text(mutated)
    try:
        run = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-x", "--tb=no", "-m", "", "-n", "0",
              *(str(path) for path in in_order(folder))],
            cwd=folder, capture_output=True, text=True, timeout=900, check=False,
            env={**os.environ, "PYTHONPATH": str(folder)},
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return ["it did not end within its time"]
    finally:
        path.write_text(source)
    return re.findall(r"^(?:FAILED|ERROR) \S+?/(test_\w+\.py::\w+|conftest\S*)", run.stdout, re.M)


def main() -> int:
    wanted = sys.argv[1:] or list(MUTATIONS)
    unnoticed = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "copy"
        keep = shutil.ignore_patterns(".git", ".*_cache", "__pycache__")
        shutil.copytree(ROOT, folder, ignore=keep)
        for name in wanted:
            tests = caught_by(name, folder)
            unnoticed += not tests
            print(f"{name:48s} {', '.join(tests) or 'NOT NOTICED'}", flush=True)
            shutil.rmtree(folder / ".pytest_cache", ignore_errors=True)
    print(f"{len(wanted)} broken, {unnoticed} unnoticed")
    return 1 if unnoticed else 0


if __name__ == "__main__":
    sys.exit(main())

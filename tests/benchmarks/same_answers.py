"""Hold the answers of two versions of the sources against each other, to the last bit.

    python -m tests.benchmarks.same_answers write FILE      # with the sources as they were
    python -m tests.benchmarks.same_answers compare FILE    # with the sources as they are

For a change that is to move code and no arithmetic. Every sample cell by both engines (every
number of every pair as its bits, findings, seams, what was left out, terminal text, JSON, sheet);
500 random moves; 200 edits one upon the other with everything kept that a window keeps. Names the
first differences. What is asked of the project stands in ``_check``, ``_Edited`` and ``_said``:
after a rename these three are all that has to follow.
"""

from __future__ import annotations

import hashlib
import io
import json
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from rich.console import Console

import pathsim
from pathsim.clearance.engine_choice import engine_for
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.model import Cell, Move, MoveKind, Point, Program
from pathsim.report.sheet_content import sheet_content
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.text import print_result
from pathsim.result.as_json import result_as_json
from pathsim.session import Session
from pathsim.transforms import frozen

SAMPLES = Path(__file__).parents[2] / "sample_cells"
MOVES, MOVES_A_CELL, EDITS = 500, 10, 200
#: So many differences are shown.
_SHOWN = 12
_LONGEST = 300


def _check(cell: Cell, *, reference: bool = False) -> pathsim.CheckResult:
    engine = ReferenceEngine(cell) if reference else engine_for(cell)
    return pathsim.check(cell, engine=engine)


class _Edited:
    """Checks of one cell as it is edited, with everything kept that a window keeps."""

    def __init__(self) -> None:
        self._session = Session()

    def check(self, cell: Cell) -> pathsim.CheckResult:
        return self._session.check(cell)


def _said(result: pathsim.CheckResult) -> Iterator[tuple[str, str]]:
    """Texts that people and programs read of a result."""
    out = io.StringIO()
    print_result(result, Console(file=out, width=110, no_color=True))
    yield "terminal", out.getvalue()
    yield "json", result_as_json(result)
    yield "sheet", sheet_as_html(sheet_content(result, "cell", "today", ()))


def _bits(*values: float) -> str:
    return " ".join(float(value).hex() for value in values)


def _numbers(result: pathsim.CheckResult) -> Iterator[tuple[str, str]]:
    """Every number of a result as its bits."""
    for move in result.moves:
        track = move.track
        yield (
            f"move {track.number} knots",
            _bits(*track.t, *track.q.ravel(), *track.speed_ratio.ravel()),
        )
        for pair in (*move.pairs, *move.own):
            found = pair.clearance
            places = [p for p in (found.on_moving, found.on_standing) if p is not None]
            yield (
                f"move {track.number} {pair.piece} to {pair.body}",
                _bits(
                    pair.stretch.start, pair.stretch.end, pair.margin, found.lower, found.upper,
                    found.time, *np.concatenate([*places, np.zeros(0)]),
                    *(second for span in pair.spans for second in span),
                ) + f" {found.is_inside} {found.is_capped} {found.is_wide}",
            )  # fmt: skip
    for finding in (*result.findings, *result.seams):
        yield f"finding {finding.kind}", f"{finding.level} {finding.move} {finding.text}"
    for item in result.left_out:
        yield "left out", f"{item.what} {item.why}"


def _cells() -> list[Path]:
    return sorted(path.parent for path in SAMPLES.glob("*/cell.yaml"))


def _of_samples() -> Iterator[tuple[str, str]]:
    for folder in _cells():
        cell = pathsim.load_cell(folder)
        for reference in (False, True):
            result = _check(cell, reference=reference)
            name = f"{folder.name}{' (reference)' if reference else ''}"
            for label, text in (*_numbers(result), *_said(result)):
                yield f"{name}: {label}", text


def _somewhere(cell: Cell, rng: np.random.Generator) -> np.ndarray:
    low = np.maximum(cell.axes.lower, -np.pi)
    high = np.minimum(cell.axes.upper, np.pi)
    return frozen(cell.axes.middle + 0.8 * (rng.random(len(low)) - 0.5) * (high - low))


def _of_random_moves() -> Iterator[tuple[str, str]]:
    """Joint moves from anywhere to anywhere: most of them hit something."""
    rng, folders = np.random.default_rng(17), _cells()
    for number in range(MOVES // MOVES_A_CELL):
        cell = pathsim.load_cell(folders[number % len(folders)])
        names = [f"p{k}" for k in range(MOVES_A_CELL + 1)]
        points = {name: Point(name, _somewhere(cell, rng), None) for name in names}
        moves = tuple(Move(MoveKind.JOINT, name, 0.5) for name in names[1:])
        random = replace(cell, points=points, program=Program(names[0], moves))
        for label, text in _numbers(_check(random)):
            yield f"random cell {number}: {label}", text


def _of_edits() -> Iterator[tuple[str, str]]:
    """Points moved a little, one edit upon the other, each checked with what the last one knew."""
    rng = np.random.default_rng(18)
    folders = [SAMPLES / name for name in ("gate_hinge", "turned_collar", "offset_wrist")]
    for folder in folders:
        cell, edited = pathsim.load_cell(folder), _Edited()
        for number in range(EDITS // len(folders) + 1):
            point = cell.points[str(rng.choice(list(cell.points)))]
            if point.q is not None:
                dof = cell.arm.dof
                q = point.q.copy()
                q[:dof] += rng.normal(0, 0.01, dof)
                moved = replace(point, q=frozen(q), T_base_tcp=None)
                cell = replace(cell, points={**cell.points, point.name: moved})
            for label, text in _numbers(edited.check(cell)):
                yield f"{folder.name} edit {number}: {label}", text


def _short(text: str) -> str:
    """Keep a long answer as its beginning and its hash."""
    if len(text) <= _LONGEST:
        return text
    return f"{text[:_LONGEST]} ... {hashlib.sha256(text.encode()).hexdigest()}"


def _answers() -> list[tuple[str, str]]:
    parts: tuple[Callable[[], Iterator[tuple[str, str]]], ...] = (
        _of_samples, _of_random_moves, _of_edits
    )  # fmt: skip
    found: list[tuple[str, str]] = []
    for part in parts:
        before = len(found)
        found += ((label, _short(text)) for label, text in part())
        print(f"{part.__name__[1:].replace('_', ' ')}: {len(found) - before} answers", flush=True)
    return found


def main(arguments: list[str]) -> int:
    if len(arguments) != 2 or arguments[0] not in ("write", "compare"):
        print(__doc__)
        return 2
    path = Path(arguments[1])
    now = _answers()
    if arguments[0] == "write":
        path.write_text(json.dumps(now), encoding="utf-8")
        return 0
    before = [tuple(each) for each in json.loads(path.read_text(encoding="utf-8"))]
    differ = [(a, b) for a, b in zip(before, now, strict=False) if a != b]
    for (label, old), (_, new) in differ[:_SHOWN]:
        print(f"{label}\n  was {old[:300]}\n  is  {new[:300]}")
    print(f"{len(before)} answers before, {len(now)} now, {len(differ)} differ")
    return int(bool(differ) or len(before) != len(now))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""Clearances of a result as one array, a row for each pair on each stretch of a move."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance import PairClearance
from pathsim.clearance.records import Clearance
from pathsim.result.record import ResultRecord

#: What a row is about: bodies and the arm's base, the arm against itself, the wire by a weld.
SCENE, OWN, WIRE = "scene", "own", "wire"


def clearances(result: ResultRecord) -> NDArray[np.void]:
    """Return all that was measured (``CheckResult.clearances`` says what the columns hold)."""
    rows = list(_rows(result))
    names = [max([1, *(len(row[k]) for row in rows)]) for k in range(1, 5)]
    kind = np.dtype(
        [
            ("move", "i4"), ("of", f"U{names[0]}"), ("piece", f"U{names[1]}"),
            ("body", f"U{names[2]}"), ("zone", f"U{names[3]}"),
            ("start", "f8"), ("end", "f8"), ("margin", "f8"),
            ("lower", "f8"), ("upper", "f8"), ("time", "f8"),
            ("touches", "?"), ("inside", "?"), ("capped", "?"), ("wide", "?"),
            ("on_moving", "f8", (3,)), ("on_standing", "f8", (3,)),
        ]
    )  # fmt: skip
    array = np.array(rows, dtype=kind)
    array.setflags(write=False)
    return array


def _rows(result: ResultRecord) -> Iterator[tuple[Any, ...]]:
    for move in result.moves:
        for name, pairs in ((SCENE, move.pairs), (OWN, move.own), (WIRE, move.wire)):
            for pair in pairs:
                yield _row(name, pair)


def _row(kind: str, pair: PairClearance) -> tuple[Any, ...]:
    found, part = pair.clearance, pair.stretch
    seen = np.isfinite(found.upper)
    return (
        pair.move, kind, pair.piece, pair.body, str(part.zone), part.start, part.end,
        pair.margin, found.lower, found.upper, found.time if seen else np.nan,
        found.touches, found.is_inside, found.is_capped, found.is_wide,
        *_points(found),
    )  # fmt: skip


def _points(found: Clearance) -> tuple[Any, Any]:
    nowhere = np.full(3, np.nan)
    return (
        nowhere if found.on_moving is None else found.on_moving,
        nowhere if found.on_standing is None else found.on_standing,
    )

"""OFF: a count, vertices, and faces of any number of corners, as plain text."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from pathsim.errors import MeshError
from pathsim.transforms import Array, IntArray

#: Headings that have only places before the faces, or colours behind them.
_HEADS = ("OFF", "COFF")
_MOST = 50_000_000
#: Its number from 1, and its words.
Line = tuple[int, list[str]]


def off_mesh(raw: bytes) -> tuple[Array, IntArray]:
    """Return vertices ``(n, 3)`` in the file's unit and triangles ``(m, 3)`` of a text OFF.

    Faces with more corners are cut into triangles from their first corner on. Raises MeshError
    with the line for anything else than what the file's own counts announce.
    """
    lines = _lines(raw)
    head = next(lines, None)
    if head is None or head[1][0].upper() not in _HEADS:
        raise MeshError("its first word is not OFF: another format, or a binary file")
    counts = head[1][1:] or next(lines, (0, []))[1]
    try:
        corners, faces = int(counts[0]), int(counts[1])
    except (IndexError, ValueError) as error:
        raise MeshError("it does not say how many vertices and faces it has") from error
    if not (0 < corners <= _MOST and 0 < faces <= _MOST):
        raise MeshError(f"it announces {corners} vertices and {faces} faces")
    vertices = np.empty((corners, 3))
    for index in range(corners):
        number, words = _next(lines, corners - index, "vertices")
        try:
            # One word alone would be taken for all three numbers.
            vertices[index, 0], vertices[index, 1], vertices[index, 2] = map(float, words[:3])
        except ValueError as error:
            raise MeshError(f"line {number} of the OFF: a vertex needs three numbers") from error
    if not np.isfinite(vertices).all():
        raise MeshError("it has vertices that are not finite numbers")
    triangles: list[tuple[int, int, int]] = []
    for index in range(faces):
        number, words = _next(lines, faces - index, "faces")
        triangles += _fan(number, words, corners)
    behind = next(lines, None)
    if behind is not None:
        raise MeshError(f"line {behind[0]} of the OFF is behind the {faces} faces it announces")
    return vertices, np.array(triangles, dtype=np.int64).reshape(-1, 3)


def _lines(raw: bytes) -> Iterator[Line]:
    for number, line in enumerate(raw.decode("utf-8", errors="replace").splitlines(), 1):
        words = line.split("#", 1)[0].split()
        if words:
            yield number, words


def _next(lines: Iterator[Line], left: int, what: str) -> Line:
    found = next(lines, None)
    if found is None:
        raise MeshError(f"{left} {what} are missing at its end (cut off?)")
    return found


def _fan(number: int, words: list[str], most: int) -> list[tuple[int, int, int]]:
    try:
        count = int(words[0])
        corners = [int(word) for word in words[1 : 1 + count]]
    except ValueError as error:
        raise MeshError(f"line {number} of the OFF: a face names its corners by number") from error
    if count < 3 or len(corners) < count:
        raise MeshError(f"line {number} of the OFF: a face needs three corners")
    if min(corners) < 0 or max(corners) >= most:
        raise MeshError(f"line {number} of the OFF names a vertex that it does not have")
    return [(corners[0], a, b) for a, b in pairwise(corners[1:])]

"""Flat outlines drawn out to a length: closed meshes of any section."""

from __future__ import annotations

import numpy as np

from pathsim.errors import MeshError
from pathsim.geometry.mesh import Mesh
from pathsim.transforms import Array

#: A round outline is drawn at most this far outside its circle, m, with so many sides.
_BEYOND = 1e-4
_FEWEST, _MOST = 24, 96


def sides(radius: float) -> int:
    """How many sides a circle of ``radius`` m is drawn with, so that it is ``_BEYOND`` off."""
    needed = np.pi / np.arccos(1.0 / (1.0 + _BEYOND / radius))
    fours = np.ceil(needed / 4)  # alike on all four sides: the middle of its box is its axis
    return int(np.clip(4 * fours, _FEWEST, _MOST))


def circle(radius: float, count: int, *, outside: bool) -> Array:
    """Regular polygon ``(count, 2)`` round a circle, or in it."""
    turn = 2 * np.pi * np.arange(count) / count
    size = radius / np.cos(np.pi / count) if outside else radius
    return size * np.column_stack([np.cos(turn), np.sin(turn)])


def drawn_out(outline: Array, length: float) -> Mesh:
    """Draw a simple outline ``(n, 2)``, counter-clockwise, out from z = 0 to ``length``.

    No two neighbouring corners may be one place. Raises MeshError for an outline that crosses
    itself.
    """
    count = len(outline)
    vertices = np.vstack([np.column_stack([outline, np.full(count, z)]) for z in (0.0, length)])
    cap = np.array(_ears(outline))
    i = np.arange(count)
    j = (i + 1) % count
    walls = [np.column_stack([i, j, count + j]), np.column_stack([i, count + j, count + i])]
    return Mesh(vertices, np.vstack([cap[:, ::-1], cap + count, *walls]))


def ring_drawn_out(outer: Array, inner: Array, length: float) -> Mesh:
    """Draw what lies between two outlines ``(n, 2)`` out from z = 0 to ``length``.

    Both counter-clockwise, with as many corners, the inner one inside the outer one.
    """
    n = len(outer)
    flat = [np.column_stack([o, np.full(n, z)]) for z in (0.0, length) for o in (outer, inner)]
    i = np.arange(n)
    j = (i + 1) % n
    low_out, low_in, top_out, top_in = 0, n, 2 * n, 3 * n

    def band(a: int, b: int) -> list[Array]:
        return [np.column_stack([a + i, a + j, b + j]), np.column_stack([a + i, b + j, b + i])]

    faces = band(low_out, top_out) + band(top_in, low_in) + band(low_in, low_out)
    return Mesh(np.vstack(flat), np.vstack(faces + band(top_out, top_in)))


def _ears(outline: Array) -> list[tuple[int, int, int]]:
    """Triangles of a simple polygon, by cutting off one ear after the other."""
    left = list(range(len(outline)))
    before, after = outline - np.roll(outline, 1, axis=0), np.roll(outline, -1, axis=0) - outline
    if (before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0] > 0).all():  # convex: a fan
        return [(0, k, k + 1) for k in left[1:-1]]
    found: list[tuple[int, int, int]] = []
    while len(left) > 3:
        for place in range(len(left)):
            a, b, c = left[place - 1], left[place], left[(place + 1) % len(left)]
            if _is_ear(outline, (a, b, c), left):
                found.append((a, b, c))
                del left[place]
                break
        else:
            raise MeshError("an outline crosses itself")
    found.append((left[0], left[1], left[2]))
    return found


def _is_ear(outline: Array, ear: tuple[int, int, int], left: list[int]) -> bool:
    a, b, c = (outline[k] for k in ear)
    if _turn(a, b, c) <= 0:
        return False
    others = [outline[k] for k in left if k not in ear]
    return not any(
        _turn(a, b, p) >= 0 and _turn(b, c, p) >= 0 and _turn(c, a, p) >= 0 for p in others
    )


def _turn(a: Array, b: Array, c: Array) -> float:
    """Twice the area of a triangle, positive when it goes counter-clockwise."""
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))

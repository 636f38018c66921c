"""An OBJ file reduced to its vertices and faces, in the plainest form, before it is read.

Readers count relative corners (``f -3 -2 -1``) from the end of the file instead of from the
line, which puts a clamp in the wrong place with the right number of triangles. Here every
corner becomes absolute, and every statement that this cannot keep is refused.
"""

from __future__ import annotations

import numpy as np

from pathsim.errors import MeshError
from pathsim.transforms import Array, IntArray

#: Statements that carry no surface: names, groups, looks, normals, texture, points and lines.
_NO_SURFACE = frozenset(
    [
        *("vt", "vn", "vp", "g", "o", "s", "mg", "usemtl", "mtllib", "l", "p", "lod", "bevel"),
        *("c_interp", "d_interp", "maplib", "usemap", "shadow_obj", "trace_obj"),
    ]
)


def plain_obj(raw: bytes) -> tuple[bytes, int]:
    """Return an equal OBJ with only ``v x y z`` and absolute ``f`` lines, and its triangles.

    Raises MeshError with the line for a corner that is zero or names no vertex written so far
    or later, for a vertex without three coordinates, and for any other kind of surface.
    """
    text = raw.decode("utf-8", errors="replace").replace("\r\n", "\n").replace("\r", "\n")
    vertices: list[str] = []
    faces: list[tuple[int, list[int]]] = []
    triangles = 0
    for number, line in _statements(text):
        words = line.split("#", 1)[0].split()
        if not words or words[0] in _NO_SURFACE:
            continue
        if words[0] == "v":
            if len(words) < 4:
                raise MeshError(f"line {number} of the OBJ: a vertex needs three coordinates")
            vertices.append("v " + " ".join(words[1:4]))
        elif words[0] == "f":
            if len(words) < 4:
                raise MeshError(f"line {number} of the OBJ: a face needs three corners")
            faces.append((number, [_corner(word, len(vertices), number) for word in words[1:]]))
            triangles += len(words) - 3
        else:
            raise MeshError(f"line {number} of the OBJ: '{words[0]}' is not read as a surface")
    for number, corners in faces:
        if max(corners) > len(vertices):
            raise MeshError(f"line {number} of the OBJ names a vertex that it does not have")
    lines = vertices + ["f " + " ".join(map(str, corners)) for _, corners in faces]
    return ("\n".join(lines) + "\n").encode(), triangles


def plain_triangles(plain: bytes) -> tuple[Array, IntArray] | None:
    """Return vertices ``(n, 3)`` and faces ``(m, 3)`` of a plain OBJ that has triangles alone.

    ``plain`` is from ``plain_obj``. None where a face has more corners, or a number is none: then
    the library that reads the other formats decides, which takes longer to start than this.
    """
    lines = [line.split() for line in plain.decode().splitlines() if line]
    points = [words[1:] for words in lines if words[0] == "v"]
    corners = [words[1:] for words in lines if words[0] == "f"]
    if not points or not corners or b"_" in plain or any(len(face) != 3 for face in corners):
        return None
    try:
        vertices = np.array(points, dtype=str).astype(np.float64)
    except ValueError:
        return None
    if not np.isfinite(vertices).all():
        return None
    return vertices, np.array(corners, dtype=np.int64) - 1


def _corner(word: str, so_far: int, number: int) -> int:
    """Return the absolute number (from 1) of a corner such as ``7/2/3`` or ``-1``."""
    try:
        index = int(word.split("/", 1)[0])
    except ValueError:
        index = 0
    if index < 0:
        index += so_far + 1
    if index < 1:
        raise MeshError(f"line {number} of the OBJ: '{word}' is no corner of a face")
    return index


def _statements(text: str) -> list[tuple[int, str]]:
    """Lines with their numbers, continued ones (ending in a backslash) as one."""
    joined: list[tuple[int, str]] = []
    begun, start = "", 0
    for number, line in enumerate(text.split("\n"), 1):
        start = start or number
        if line.rstrip().endswith("\\"):
            begun += line.rstrip()[:-1] + " "
            continue
        joined.append((start, begun + line))
        begun, start = "", 0
    if begun:
        joined.append((start, begun))
    return joined

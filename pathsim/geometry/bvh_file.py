"""BVHs on disk. A file that is damaged, foreign or of another version is never believed.

The name is a hash over the mesh, the version and the use; the file holds checksums over the arrays
and that name, how many nodes and triangles there are, and the arrays one behind the other, little
endian. No objects: reading a file runs nothing that stands in it.

The checksums are there for damage, so they are the fast ones: a CRC-32, which notices wherever a
few bits differ, and the sum of all words, which leaves one of 2^64 damages at random to it. A
cryptographic hash took most of the time of reading.
"""

from __future__ import annotations

import contextlib
import math
import os
import zlib
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.kernels.cache_folder import cache_folder

#: Goes up whenever trees are made otherwise.
VERSION = 5
#: The folder is kept below this, bytes; the files used longest ago go first.
MOST_BYTES = 2_000_000_000
#: A process looks through the folder at its first file, and each time that it has written such a
#: part of all that may be kept: looking through thousands of small files takes its time.
_LOOKS = 20
_written: dict[Path, int] = {}
_ENDING = ".bvh"
#: Bytes of the checksums and of what stands before the arrays; so many nodes no mesh has.
_SUMS, _HEAD, _MOST = 16, 32, 2**40


class Use(StrEnum):
    """What a tree is for, and so what is kept of it (``bvh.py``)."""

    #: ``box (n, 6)``, ``links (n, 4)``, ``triangles (m, 3, 3)``, ``order (m,)``.
    STANDING = "standing"
    #: ``sphere (n, 4)``, ``obb (n, 9)``, ``links (n, 4)``, ``triangles (m, 3, 3)``.
    MOVING = "moving"


def tree_path(mesh: Mesh, use: Use = Use.STANDING) -> Path | None:
    """Return where the tree of a mesh is kept; None where nothing is kept."""
    folder = cache_folder("trees")
    return None if folder is None else folder / f"{_key(mesh, use)}{_ENDING}"


def load_tree(mesh: Mesh, use: Use = Use.STANDING) -> list[np.ndarray] | None:
    """Return the kept tree of a mesh, or None when there is none that can be believed."""
    path = tree_path(mesh, use)
    if path is None:
        return None
    try:
        with path.open("rb") as stream:
            size = os.fstat(stream.fileno()).st_size
            if size < _HEAD:
                return None
            # Kernels ask for arrays that may be written to.
            whole = np.empty(size, dtype=np.uint8)
            if stream.readinto(whole.data) != size:
                return None
    except (OSError, MemoryError):
        return None
    head, counts = whole[:_SUMS], whole[_SUMS:_HEAD].view("<i8")
    blocks = _blocks(use, int(counts[0]), int(counts[1]))
    if blocks is None or size != _HEAD + sum(8 * math.prod(shape) for shape, _ in blocks):
        return None
    if head.tobytes() != _checksums(_key(mesh, use), [whole[_SUMS:]]):
        return None
    arrays, at = [], _HEAD
    for shape, kind in blocks:
        end = at + 8 * math.prod(shape)
        arrays.append(whole[at:end].view(kind).reshape(shape))
        at = end
    return arrays


def save_tree(mesh: Mesh, use: Use, tree: Sequence[np.ndarray]) -> None:
    """Keep a tree. What cannot be written is left: it will be made again."""
    path = tree_path(mesh, use)
    if path is None:
        return
    nodes = len(tree[0])
    triangles = len(tree[2 if use is Use.STANDING else 3])
    counts = np.array([nodes, triangles], dtype="<i8")
    kinds = [kind for _, kind in _blocks(use, nodes, triangles) or ()]
    blocks = [np.ascontiguousarray(a, dtype=k) for a, k in zip(tree, kinds, strict=True)]
    temporary = path.with_name(f".{path.stem}-{os.getpid()}{_ENDING}")
    try:
        with temporary.open("wb") as stream:
            stream.write(_checksums(_key(mesh, use), [counts, *blocks]))
            for array in (counts, *blocks):
                stream.write(array.data)
        temporary.replace(path)
        _written[path.parent] = _written.get(path.parent, MOST_BYTES) + path.stat().st_size
        if _written[path.parent] > MOST_BYTES // _LOOKS:
            _written[path.parent] = 0
            _clear_out(path.parent)
    except OSError:
        with contextlib.suppress(OSError):
            temporary.unlink()


def _blocks(use: Use, nodes: int, triangles: int) -> tuple[tuple[tuple[int, ...], str], ...] | None:
    """Shape and kind of the arrays of a tree, in their order; None for counts that cannot be."""
    if min(nodes, triangles) < 1 or max(nodes, triangles) > _MOST:
        return None
    links, corners = ((nodes, 4), "<i8"), ((triangles, 3, 3), "<f8")
    if use is Use.STANDING:
        return (((nodes, 6), "<f8"), links, corners, ((triangles,), "<i8"))
    return (((nodes, 4), "<f8"), ((nodes, 9), "<f8"), links, corners)


def _key(mesh: Mesh, use: Use) -> str:
    return f"{VERSION}-{mesh.digest}-{use}"


def _checksums(key: str, arrays: Sequence[np.ndarray]) -> bytes:
    """Two checksums over counts and arrays, all of words of eight bytes, and what they are of."""
    cyclic, total = zlib.crc32(key.encode()), 0
    for array in arrays:
        cyclic = zlib.crc32(array.data, cyclic)
        total += int(array.reshape(-1).view("<u8").sum(dtype=np.uint64))
    return np.array([cyclic, total % 2**64], dtype="<u8").tobytes()


def _clear_out(folder: Path) -> None:
    """Delete the files used longest ago until the folder is small enough."""
    kept = [path for path in folder.iterdir() if path.suffix in (_ENDING, ".npz")]  # .npz: older
    files = sorted(kept, key=lambda path: path.stat().st_mtime, reverse=True)
    total = 0
    for path in files:
        total += path.stat().st_size
        if total > MOST_BYTES:
            path.unlink(missing_ok=True)

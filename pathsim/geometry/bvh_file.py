"""BVHs on disk. A file that is damaged, foreign or of another version is never believed.

The name is a hash over the mesh and the version; the file holds a checksum over the arrays and
that hash, how many nodes and triangles there are, and the arrays one behind the other, little
endian. No objects: reading a file runs nothing that stands in it, and it is gone through once.
"""

from __future__ import annotations

import contextlib
import hashlib
import math
import os
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.kernels.cache_folder import cache_folder
from pathsim.transforms import Array, IntArray

#: Goes up whenever trees are made otherwise.
VERSION = 4
#: The folder is kept below this, bytes; the files used longest ago go first.
MOST_BYTES = 2_000_000_000
#: A process looks through the folder at its first file, and each time that it has written such a
#: part of all that may be kept: looking through thousands of small files takes its time.
_LOOKS = 20
_written: dict[Path, int] = {}
_ENDING = ".bvh"
#: Bytes of the checksum and of what stands before the arrays; so many nodes no mesh has.
_HASH, _HEAD, _MOST = 32, 48, 2**40


class TreeFile(NamedTuple):
    """What is kept: ``box (n, 6)``, ``links (n, 4)``, ``triangles (m, 3, 3)``, ``order (m,)``."""

    box: Array
    links: IntArray
    triangles: Array
    order: IntArray


def tree_path(mesh: Mesh) -> Path | None:
    """Return where the tree of a mesh is kept; None where nothing is kept."""
    folder = cache_folder("trees")
    return None if folder is None else folder / f"{_key(mesh)}{_ENDING}"


def load_tree(mesh: Mesh) -> TreeFile | None:
    """Return the kept tree of a mesh, or None when there is none that can be believed."""
    path = tree_path(mesh)
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
    head, counts = whole[:_HASH], whole[_HASH:_HEAD].view("<i8")
    blocks = _blocks(int(counts[0]), int(counts[1]))
    if blocks is None or size != _HEAD + sum(8 * math.prod(shape) for shape, _ in blocks):
        return None
    if head.tobytes() != _checksum(mesh, [whole[_HASH:]]):
        return None
    arrays, at = [], _HEAD
    for shape, kind in blocks:
        end = at + 8 * math.prod(shape)
        arrays.append(whole[at:end].view(kind).reshape(shape))
        at = end
    return TreeFile(*arrays)


def save_tree(mesh: Mesh, tree: TreeFile) -> None:
    """Keep a tree. What cannot be written is left: it will be made again."""
    path = tree_path(mesh)
    if path is None:
        return
    counts = np.array([len(tree.box), len(tree.order)], dtype="<i8")
    kinds = [kind for _, kind in _blocks(*counts.tolist()) or ()]
    blocks = [np.ascontiguousarray(a, dtype=k) for a, k in zip(tree, kinds, strict=True)]
    temporary = path.with_name(f".{path.stem}-{os.getpid()}{_ENDING}")
    try:
        with temporary.open("wb") as stream:
            stream.write(_checksum(mesh, [counts, *blocks]))
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


def _blocks(nodes: int, triangles: int) -> tuple[tuple[tuple[int, ...], str], ...] | None:
    """Shape and kind of the arrays of a tree, in their order; None for counts that cannot be."""
    if min(nodes, triangles) < 1 or max(nodes, triangles) > _MOST:
        return None
    return (
        ((nodes, 6), "<f8"),
        ((nodes, 4), "<i8"),
        ((triangles, 3, 3), "<f8"),
        ((triangles,), "<i8"),
    )


def _key(mesh: Mesh) -> str:
    return f"{VERSION}-{mesh.digest}"


def _checksum(mesh: Mesh, arrays: Sequence[np.ndarray]) -> bytes:
    """Hash over the counts, the arrays in their order, and the mesh that they are of."""
    digest = hashlib.blake2b(_key(mesh).encode(), digest_size=_HASH)
    for array in arrays:
        digest.update(array.data)
    return digest.digest()


def _clear_out(folder: Path) -> None:
    """Delete the files used longest ago until the folder is small enough."""
    kept = [path for path in folder.iterdir() if path.suffix in (_ENDING, ".npz")]  # .npz: older
    files = sorted(kept, key=lambda path: path.stat().st_mtime, reverse=True)
    total = 0
    for path in files:
        total += path.stat().st_size
        if total > MOST_BYTES:
            path.unlink(missing_ok=True)

"""BVHs on disk. A file that is damaged, foreign or of another version is never believed.

The name is a hash over the mesh and the version; the file holds a checksum over the arrays and
that hash. Plain arrays, no objects: reading a file runs nothing that stands in it.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from pathlib import Path
from typing import NamedTuple

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.kernels.cache_folder import cache_folder
from pathsim.transforms import Array, IntArray

#: Goes up whenever trees are made otherwise.
VERSION = 3
#: The folder is kept below this, bytes; the files used longest ago go first.
MOST_BYTES = 2_000_000_000


class TreeFile(NamedTuple):
    """What is kept: ``box (n, 6)``, ``links (n, 4)``, ``triangles (m, 3, 3)``, ``order (m,)``."""

    box: Array
    links: IntArray
    triangles: Array
    order: IntArray


def tree_path(mesh: Mesh) -> Path | None:
    """Return where the tree of a mesh is kept; None where nothing is kept."""
    folder = cache_folder("trees")
    return None if folder is None else folder / f"{_key(mesh)}.npz"


def load_tree(mesh: Mesh) -> TreeFile | None:
    """Return the kept tree of a mesh, or None when there is none that can be believed."""
    path = tree_path(mesh)
    if path is None or not path.is_file():
        return None
    try:
        # Opened here: the library leaves a file open that it cannot read.
        with path.open("rb") as stream, np.load(stream, allow_pickle=False) as kept:
            tree = TreeFile(kept["box"], kept["links"], kept["triangles"], kept["order"])
            checksum = bytes(kept["checksum"])
    except Exception:
        return None
    if checksum != _checksum(mesh, tree):
        return None
    return tree


def save_tree(mesh: Mesh, tree: TreeFile) -> None:
    """Keep a tree. What cannot be written is left: it will be made again."""
    path = tree_path(mesh)
    if path is None:
        return
    checksum = np.frombuffer(_checksum(mesh, tree), dtype=np.uint8)
    # Straight into a file and renamed: as bytes in memory a large tree would be there twice.
    temporary = path.with_name(f".{path.stem}-{os.getpid()}.npz")
    try:
        np.savez(temporary, **tree._asdict(), checksum=checksum)
        temporary.replace(path)
        _clear_out(path.parent)
    except (OSError, ValueError):  # ValueError: a file that was closed by a full disk
        with contextlib.suppress(OSError):
            temporary.unlink()


def _key(mesh: Mesh) -> str:
    return f"{VERSION}-{mesh.digest}"


def _checksum(mesh: Mesh, tree: TreeFile) -> bytes:
    """Hash over the arrays, their kinds and the mesh that they are of."""
    digest = hashlib.blake2b(_key(mesh).encode(), digest_size=20)
    for array in tree:
        digest.update(f"{array.dtype.str} {array.shape}".encode())
        digest.update(np.ascontiguousarray(array).data)
    return digest.digest()


def _clear_out(folder: Path) -> None:
    """Delete the files used longest ago until the folder is small enough."""
    files = sorted(folder.glob("*.npz"), key=lambda path: path.stat().st_mtime, reverse=True)
    total = 0
    for path in files:
        total += path.stat().st_size
        if total > MOST_BYTES:
            path.unlink(missing_ok=True)

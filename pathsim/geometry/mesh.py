"""Triangles, checked once, so that everything behind can rely on them."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pathsim.errors import MeshError
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, apply, frozen

#: Farther than this from its origin a mesh is a mistake of unit, and float32 files
#: no longer resolve a tenth of a millimetre.
FARTHEST = 1000.0  # m
#: Rounding in coordinates of up to ``FARTHEST`` stays below this, m.
ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class Mesh(FieldsOnly):
    """``vertices (n, 3)`` in m and ``faces (m, 3)``; raises MeshError when unusable.

    Open meshes and single sheets are allowed: distance needs no inside. ``is_cut``: what is left
    of a mesh that something was cut out of. It has no inside that could be told from the rest.
    ``is_fleeting``: another one takes its place as soon as something is taught anew, so that
    nothing worked out of it is worth keeping on disk.
    """

    vertices: Array
    faces: NDArray[np.int64]
    is_cut: bool = False
    is_fleeting: bool = False

    def __post_init__(self) -> None:
        try:
            vertices = _kept_or(self.vertices, np.float64, frozen)
            faces = _kept_or(self.faces, np.int64, np.array)
        except (TypeError, ValueError) as error:
            raise MeshError(f"vertices and faces must be arrays of numbers: {error}") from error
        if vertices.ndim != 2 or vertices.shape[1] != 3:
            raise MeshError(f"vertices must be (n, 3), came {vertices.shape}")
        if faces.ndim != 2 or faces.shape[1] != 3 or not np.issubdtype(faces.dtype, np.integer):
            raise MeshError(f"faces must be whole numbers (m, 3), came {faces.shape}")
        if len(faces) == 0:
            raise MeshError("the mesh has no triangles")
        if not np.isfinite(vertices).all():
            raise MeshError("the mesh has vertices that are not finite numbers")
        if faces.min() < 0 or faces.max() >= len(vertices):
            raise MeshError("a triangle names a vertex that the mesh does not have")
        reach = max(-float(vertices.min()), float(vertices.max()))
        if reach > FARTHEST:
            raise MeshError(
                f"the mesh reaches {reach:.0f} m from its origin; "
                f"more than {FARTHEST:.0f} m is most likely a wrong unit"
            )
        faces = faces.astype(np.int64, copy=False)
        faces.setflags(write=False)
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "faces", faces)

    def __repr__(self) -> str:
        return f"Mesh({len(self.vertices)} vertices, {len(self.faces)} triangles)"

    @property
    def used(self) -> Array:
        """Vertices ``(k, 3)`` that triangles have, m: files may hold more."""
        is_used = np.zeros(len(self.vertices), dtype=bool)
        is_used[self.faces] = True
        return self.vertices if is_used.all() else self.vertices[is_used]

    @cached_property
    def bounds(self) -> Array:
        """``(2, 3)`` m: lowest and highest corner of the triangles in use."""
        used = self.used
        # Column by column: along the short axis the library takes four times as long.
        return frozen([[used[:, k].min() for k in range(3)], [used[:, k].max() for k in range(3)]])

    @cached_property
    def corners(self) -> Array:
        """``(8, 3)`` m: corners of the bounding box; every point of the mesh is among them."""
        low, high = self.bounds
        picks = np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, -1).T
        return frozen(np.where(picks == 0, low, high))

    @cached_property
    def outwards(self) -> float:
        """1 where triangles face outwards, -1 where all are drawn the other way round.

        Told by the sign of the volume: six times of it is the sum of ``a . (b x c)`` over the
        corners of the triangles.
        """
        a, b, c = (
            [self.vertices[self.faces[:, corner], k] for k in range(3)] for corner in range(3)
        )
        six = a[0] * (b[1] * c[2] - b[2] * c[1])
        six += a[1] * (b[2] * c[0] - b[0] * c[2])
        six += a[2] * (b[0] * c[1] - b[1] * c[0])
        return -1.0 if six.sum() < 0 else 1.0

    @cached_property
    def digest(self) -> str:
        """Hash over vertices and faces: meshes with the same one are the same."""
        digest = hashlib.blake2b(digest_size=20)
        for array in (self.vertices, self.faces):
            digest.update(f"{array.shape}".encode())
            digest.update(np.ascontiguousarray(array).data)
        if self.is_cut:
            digest.update(b"cut")
        return digest.hexdigest()

    def moved(self, T: ArrayLike) -> Mesh:
        """Return the mesh with its vertices mapped through the pose ``T (4, 4)``, m."""
        vertices = apply(np.asarray(T, float), self.vertices)
        return Mesh(vertices, self.faces, self.is_cut, self.is_fleeting)


def _kept_or(
    values: ArrayLike, kind: type, copied: Callable[[ArrayLike], np.ndarray]
) -> np.ndarray:
    """Return an array that nobody can write to as it is, anything else copied.

    A mesh of a million triangles takes as long to copy as to read.
    """
    if not isinstance(values, np.ndarray) or values.dtype != kind:
        return copied(values)
    owner: object = values
    while isinstance(owner, np.ndarray):
        if owner.flags.writeable:
            return copied(values)
        owner = owner.base
    return values if owner is None else copied(values)

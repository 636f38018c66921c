"""What the fast engine keeps from one check to the next: a cache keyed by content.

Results by a hash of all their inputs, trees by the mesh, chain motions by knots and links.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from pathsim.clearance.engine import Pair
from pathsim.clearance.records import Clearance, Content
from pathsim.clearance.swept.chain_motion import CarryingLinks, ChainMotion
from pathsim.clearance.swept.search_node import RESULT
from pathsim.geometry.bvh import BoxTree, SphereTree, box_tree, sphere_tree
from pathsim.geometry.containment_kernel import FastSolid
from pathsim.model import Mesh
from pathsim.transforms import Array, BoolArray

if TYPE_CHECKING:
    from pathsim.clearance.swept.batch import SortedPairs
    from pathsim.clearance.swept.jobs import PackedObstacle

#: The stretch, and the pair with what was asked for (``batch.py``).
Key = tuple[bytes, bytes]


class ResultCache:
    """Rows of results ``(RESULT,)`` by their keys; several threads may use them at once.

    ``most``: how many are kept. When there would be more, all are forgotten.
    """

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, threading.Lock()
        self.clear()

    def __len__(self) -> int:
        return len(self._places)

    def clear(self) -> None:
        """Forget all."""
        with self._lock:
            self._empty()

    def _empty(self) -> None:
        self._places: dict[Key, int] = {}
        self._rows, self._filled = np.empty((0, RESULT)), 0

    def find(self, keys: Sequence[Key]) -> tuple[Array, BoolArray]:
        """Rows ``(n, RESULT)`` of keys, and which of them are known ``(n,)``; others are nan."""
        rows = np.full((len(keys), RESULT), np.nan)
        with self._lock:
            place = self._places.get
            places = np.array([place(key, -1) for key in keys], dtype=np.int64)
            known = places >= 0
            rows[known] = self._rows[places[known]]
        return rows, known

    def keep(self, keys: Sequence[Key], rows: Array) -> None:
        """Keep answers, one row for each key."""
        with self._lock:
            if self._filled + len(keys) > self._most:
                self._empty()
            start, end = self._filled, self._filled + len(keys)
            if end > len(self._rows):
                # Half as much again: rows are seldom copied.
                more = np.empty((end + end // 2, RESULT))
                more[:start] = self._rows[:start]
                self._rows = more
            self._rows[start:end], self._filled = rows, end
            self._places.update(zip(keys, range(start, end), strict=True))


Value = TypeVar("Value")
#: Answers are small, courses are not: of a program of 120 moves both fit several times.
_MOST_ANSWERS = 200_000
_MOST_SPANS = 20_000
_MOST_COURSES = 600
_MOST_MESHES = 400
_MOST_CHAINS = 200
_LISTS = 4


class EngineCache:
    """Trees, stretches and answers by what they are made from, never by name or number.

    A body that moved, or a point that was taught anew, has other keys: nothing old is used
    for it, and everything else is found again.
    """

    def __init__(self) -> None:
        self.answers = ResultCache(_MOST_ANSWERS)
        self._spans: dict[Content, Array] = {}
        self._corners: dict[Content, Clearance] = {}
        self._courses: dict[bytes, ChainMotion] = {}
        self._boxes: dict[str, BoxTree] = {}
        self._spheres: dict[str, SphereTree] = {}
        self._joined: dict[Content, tuple[SphereTree, list[int]]] = {}
        self._links: dict[Content, CarryingLinks] = {}
        self._solids: dict[str, FastSolid] = {}
        self._things: dict[Content, PackedObstacle] = {}
        self._pairs: list[SortedPairs] = []

    def spans(self, key: Content, make: Callable[[], Array]) -> Array:
        """Return when a pair is near, ``(n, 2)`` s from the start of its stretch."""
        return _kept(self._spans, key, make, _MOST_SPANS)

    def clearance(self, content: Content, make: Callable[[], Clearance]) -> Clearance:
        """Return the clearance of a pair in a rounded corner."""
        return _kept(self._corners, content, make, _MOST_SPANS)

    def forget_moves(self) -> None:
        """Forget how links go, so that all stretches are laid out anew."""
        self._courses.clear()

    def box_tree(self, mesh: Mesh) -> BoxTree:
        """Return the box tree of a mesh."""
        return _kept(self._boxes, mesh.digest, lambda: box_tree(mesh), _MOST_MESHES)

    def sphere_tree(self, mesh: Mesh) -> SphereTree:
        """Return the sphere tree of a mesh."""
        return _kept(self._spheres, mesh.digest, lambda: sphere_tree(mesh), _MOST_MESHES)

    def behind_each_other(
        self, meshes: Sequence[Mesh], make: Callable[[], tuple[SphereTree, list[int]]]
    ) -> tuple[SphereTree, list[int]]:
        """Return the sphere trees of several meshes as one, and where each begins."""
        key = tuple(mesh.digest for mesh in meshes)
        return _kept(self._joined, key, make, _MOST_CHAINS)

    def links(self, key: Content, make: Callable[[], CarryingLinks]) -> CarryingLinks:
        """Return the links of a linkage that carry pieces."""
        return _kept(self._links, key, make, _MOST_CHAINS)

    def solid(self, mesh: Mesh) -> FastSolid:
        """Return the components of a mesh, for inside tests."""
        return _kept(
            self._solids, mesh.digest, lambda: FastSolid(mesh, self.box_tree(mesh)), _MOST_MESHES
        )

    def thing(self, key: Content, make: Callable[[], PackedObstacle]) -> PackedObstacle:
        """Return what is worked out once of what stands, and of how finely it is asked about."""
        return _kept(self._things, key, make, _MOST_MESHES)

    def sorted_pairs(self, pairs: Sequence[Pair], make: Callable[[], SortedPairs]) -> SortedPairs:
        """Return pairs by what they share; of the last few lists of them."""
        for known in self._pairs:
            if known.pairs == pairs:
                return known
        found = make()
        self._pairs = [found, *self._pairs[: _LISTS - 1]]
        return found

    def course(self, key: bytes, make: Callable[[], ChainMotion]) -> ChainMotion:
        """Return how links go on the stretch of a key."""
        return _kept(self._courses, key, make, _MOST_COURSES)


def _kept(store: dict, key: object, make: Callable[[], Value], most: int) -> Value:  # type: ignore[type-arg]
    """Return what is kept under a key, made now if it is not; the oldest go first."""
    if key not in store:
        while len(store) >= most:
            store.pop(next(iter(store)))
        store[key] = make()
    return store[key]  # type: ignore[no-any-return]

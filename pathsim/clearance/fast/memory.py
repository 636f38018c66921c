"""What a fast engine keeps from one check to the next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from pathsim.clearance.fast.answers import Answers
from pathsim.clearance.fast.inside import FastSolid
from pathsim.clearance.fast.links import Links
from pathsim.clearance.fast.records import BoxTree, SphereTree
from pathsim.clearance.fast.stretch import Course
from pathsim.clearance.fast.trees import box_tree, sphere_tree
from pathsim.model import Mesh
from pathsim.transforms import Array

Value = TypeVar("Value")
Key = tuple[object, ...]
#: Answers are small, courses are not: of a program of 120 moves both fit several times.
_MOST_ANSWERS = 200_000
_MOST_SPANS = 20_000
_MOST_COURSES = 600
_MOST_MESHES = 400
_MOST_CHAINS = 200


class Memory:
    """Trees, stretches and answers by what they are made from, never by name or number.

    A body that moved, or a point that was taught anew, has other keys: nothing old is used
    for it, and everything else is found again.
    """

    def __init__(self) -> None:
        self.answers = Answers(_MOST_ANSWERS)
        self._spans: dict[Key, Array] = {}
        self._courses: dict[bytes, Course] = {}
        self._boxes: dict[str, BoxTree] = {}
        self._spheres: dict[str, SphereTree] = {}
        self._joined: dict[Key, tuple[SphereTree, list[int]]] = {}
        self._links: dict[Key, Links] = {}
        self._solids: dict[str, FastSolid] = {}

    def spans(self, key: Key, make: Callable[[], Array]) -> Array:
        """Return when a pair is near, ``(n, 2)`` s from the start of its stretch."""
        return _kept(self._spans, key, make, _MOST_SPANS)

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

    def links(self, key: Key, make: Callable[[], Links]) -> Links:
        """Return the links of a linkage that carry pieces."""
        return _kept(self._links, key, make, _MOST_CHAINS)

    def solid(self, mesh: Mesh) -> FastSolid:
        """Return the components of a mesh, for inside tests."""
        return _kept(
            self._solids, mesh.digest, lambda: FastSolid(mesh, self.box_tree(mesh)), _MOST_MESHES
        )

    def course(self, key: bytes, make: Callable[[], Course]) -> Course:
        """Return how links go on the stretch of a key."""
        return _kept(self._courses, key, make, _MOST_COURSES)


def _kept(store: dict, key: object, make: Callable[[], Value], most: int) -> Value:  # type: ignore[type-arg]
    """Return what is kept under a key, made now if it is not; the oldest go first."""
    if key not in store:
        while len(store) >= most:
            store.pop(next(iter(store)))
        store[key] = make()
    return store[key]  # type: ignore[no-any-return]

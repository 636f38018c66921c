"""How far places are from a mesh's surface, on which side of it, and where lines first meet it.

Plain arithmetic on triangles near by, the same whichever engine measures: each triangle has a
frame of its own (``triangle_frames.py``), and what is near is told by a grid
(``triangle_grid.py``).
"""

from __future__ import annotations

import itertools
from typing import ClassVar, NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from pathsim.each_once import each_once
from pathsim.geometry.mesh import ROUNDING, Mesh
from pathsim.geometry.triangle_frames import TriangleFrames
from pathsim.geometry.triangle_grid import TriangleGrid
from pathsim.transforms import Array, IntArray

#: Round places triangles are looked for this far away, then farther, m.
_ROUNDS = (2e-3, 8e-3, 32e-3)
#: Lines are looked along in pieces of about this, m, and in at most so many: the box of a long
#: slanting line holds much.
_PIECE, _MOST_PIECES = 8e-3, 32
#: Cells round a place are looked at in groups: the nearest, some more, all others.
_RANKS = (0, 2, 8, 32, 128, np.inf)
#: Planes whose normals differ by less go on in each other, rad.
_SAME_FACE = np.radians(20.0)
#: Angles of normals are told to less than this, rad.
_ANGLE_TOLD = 1e-6
#: Triangles are equally near within this, m.
_TIE = 1e-9


class Nearest(NamedTuple):
    """Of n places: ``distance (n,)`` m to the surface, ``height (n,)`` and ``normal (n, 3)``.

    ``height``: of the nearest triangles that which sees the place most squarely sees it this
    far before its face (positive) or behind it, m; ``normal``: of that triangle.
    """

    distance: Array
    height: Array
    normal: Array


class PartSurface:
    """A mesh's triangles, each in a frame of its own; everything is in the mesh's frame."""

    _known: ClassVar[WeakKeyDictionary[Mesh, PartSurface]] = WeakKeyDictionary()

    def __init__(self, mesh: Mesh) -> None:
        # Not the mesh itself: it would never be forgotten.
        self._frames, self._grid = TriangleFrames(mesh), TriangleGrid.of(mesh)
        self._outwards = mesh.outwards
        #: Of cells, once they were asked about: a direction, and the most that normals are off it.
        cells = self._grid.low.shape[1]
        self._facing, self._spread = np.zeros((cells, 3)), np.full(cells, np.nan)

    @classmethod
    def of(cls, mesh: Mesh) -> PartSurface:
        """Return the surface of a mesh, made once."""
        if mesh not in cls._known:
            cls._known[mesh] = cls(mesh)
        return cls._known[mesh]

    def nearest(self, places: Array) -> Nearest:
        """Return how far ``places (n, 3)`` are from the surface: exact at any distance."""
        count = len(places)
        found = Nearest(np.full(count, np.inf), np.zeros(count), np.zeros((count, 3)))
        left = np.arange(count)
        for reach in _ROUNDS:
            near = places[left]
            for which, some in self._grid.meeting(near - reach, near + reach):
                self._put(found, places, left[which], some)
            # Whatever was not looked at is farther than the reach.
            left = left[~(found.distance[left] <= reach)]
        for place in left.tolist():
            some = self._grid.may_be_nearest(places[place])
            self._put(found, places, np.full(len(some), place), some)
        return found

    def to_other_face(self, places: Array, normals: Array) -> Array:
        """How far ``places (n, 3)`` are from a face that is not the one they lie on, ``(n,)`` m.

        ``normals (n, 3)``: of that one. The back of a plate is not another face, nor is what goes
        on nearly in the same plane. inf where there is none.
        """
        found = np.full(len(places), np.inf)
        left, inner, reach = np.arange(len(places)), -np.inf, _ROUNDS[0]
        while len(left):
            for near, cells in self._grid.cells_beyond(places[left], inner, reach):
                which = left[near]
                may_turn = self._may_turn(cells, normals[which])
                self._offer_other(found, places, normals, which[may_turn], cells[may_turn])
            is_done = found[left] <= reach
            inner, reach = reach, 1.5 * reach
            left = left[~is_done & (self._grid.farthest(places[left]) > inner)]
        return found

    def first_met(self, starts: Array, directions: Array, longest: float) -> Array:
        """How far along unit ``directions (n, 3)`` from ``starts (n, 3)`` the surface is, ``(n,)``.

        inf where it is not met within ``longest`` m.
        """
        pieces = int(np.clip(np.ceil(longest / _PIECE), 1, _MOST_PIECES))
        ways = np.linspace(0.0, longest, pieces + 1)
        along = starts[:, None] + ways[:, None] * directions[:, None]
        low = np.minimum(along[:, :-1], along[:, 1:]).reshape(-1, 3) - ROUNDING
        high = np.maximum(along[:, :-1], along[:, 1:]).reshape(-1, 3) + ROUNDING
        met = np.full(len(starts), np.inf)
        for piece, some in self._grid.meeting(low, high):
            which = piece // pieces
            way = self._frames.met(starts[which], directions[which], some)
            is_met = (way >= 0) & (way <= longest)
            np.minimum.at(met, which[is_met], way[is_met])
        return met

    def _put(self, found: Nearest, places: Array, which: IntArray, some: IntArray) -> None:
        """Put in what pairs of places, in order, and triangles tell: all of a place's at once."""
        if not len(which):
            return
        away, height = self._frames.away(places[which], some)
        first = np.flatnonzero(np.append(True, which[1:] != which[:-1]))
        row = np.cumsum(np.append(0, which[1:] != which[:-1]))
        least = np.minimum.reduceat(away, first)
        squarely = np.where(away <= least[row] + _TIE, np.abs(height), -1.0)
        is_it = squarely == np.maximum.reduceat(squarely, first)[row]
        found.distance[which[first]] = least
        found.height[which[is_it]] = self._outwards * height[is_it]
        found.normal[which[is_it]] = self._frames.normals(some[is_it])

    def _offer_other(
        self, found: Array, places: Array, normals: Array, which: IntArray, cells: IntArray
    ) -> None:
        """Put into ``found (n,)`` what is less: of pairs of places, rising, and cells."""
        gap = self._grid.gaps(places[which], cells)
        order = np.lexsort((gap, which))
        which, cells, gap = which[order], cells[order], gap[order]
        # The nearest cells of each place first: most others are farther than what is in them.
        rank = np.arange(len(which)) - np.searchsorted(which, which)
        for first, last in itertools.pairwise(_RANKS):
            near = np.flatnonzero((rank >= first) & (rank < last) & (gap < found[which]))
            for k, triangles in self._grid.triangles_in(which[near], cells[near]):
                turned = np.abs(np.einsum("ki,ki->k", self._frames.normals(triangles), normals[k]))
                is_other = (turned < np.cos(_SAME_FACE)) & self._frames.have_area(triangles)
                one, other = k[is_other], triangles[is_other]
                np.minimum.at(found, one, self._frames.away(places[one], other)[0])

    def _may_turn(self, cells: IntArray, normals: Array) -> np.ndarray:
        """Tell of pairs of cells and ``normals (k, 3)`` whether a triangle may be another face's.

        Most cells hold pieces of one plane.
        """
        new = cells[np.isnan(self._spread[cells])]
        if len(new):
            self._tell_cones(each_once(new))
        off = _angle(np.einsum("ki,ki->k", self._facing[cells], normals))
        return np.asarray(off + self._spread[cells] > _SAME_FACE - _ANGLE_TOLD)

    def _tell_cones(self, cells: IntArray) -> None:
        """Put in of ``cells (n,)`` the normal of one triangle, and how far others are off it.

        As lines: which way a triangle is drawn does not count. Those without area do not.
        """
        facing, spread = np.zeros((len(cells), 3)), np.full(len(cells), -np.inf)
        for k, some in self._grid.triangles_in(np.arange(len(cells)), cells):
            has_area = self._frames.have_area(some)
            cell, normals = k[has_area], self._frames.normals(some[has_area])
            facing[cell] = normals  # the last of each stays
            np.maximum.at(spread, cell, _angle(np.einsum("ki,ki->k", facing[cell], normals)))
        # The spread last: whoever asks meanwhile, on another thread, finds both or neither.
        self._facing[cells] = facing
        self._spread[cells] = spread


def _angle(cosines: Array) -> Array:
    """Angles of lines, rad, by cosines of their directions, which may be rounded beyond one."""
    return np.asarray(np.arccos(np.minimum(np.abs(cosines), 1.0)))

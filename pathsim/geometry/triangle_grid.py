"""A uniform grid over a mesh's triangles: which of them come near to places, without a tree.

Each triangle is in the cell that its box's middle lies in, and each cell has the box round its
triangles (AABB): what a cell's box does not meet none of its triangles meets. Plain arithmetic,
the same whichever engine measures, and made in a fraction of the time of a tree (BVH): for a few
hundred places in a mesh of a million triangles.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import ClassVar
from weakref import WeakKeyDictionary

import numpy as np

from pathsim.geometry.mesh import ROUNDING, Mesh
from pathsim.transforms import Array, BoolArray, IntArray

#: Cells are as wide as lets a flat mesh have about so many triangles in each.
_IN_A_CELL = 32
#: So many pairs are worked out in one go.
_AT_ONCE = 1_000_000

#: Two columns ``(k,)`` that belong together.
Pairs = tuple[IntArray, IntArray]


class TriangleGrid:
    """The cells of a mesh that hold triangles, in the mesh's frame; ``of`` keeps it with the mesh.

    ``low, high (3, g)``: the boxes of the cells, m.
    """

    _known: ClassVar[WeakKeyDictionary[Mesh, TriangleGrid]] = WeakKeyDictionary()

    def __init__(self, mesh: Mesh) -> None:
        # By axes: what is asked of one axis at a time lies side by side.
        columns = np.ascontiguousarray(mesh.vertices.T)
        first, second, third = (np.take(columns, mesh.faces[:, n], axis=1) for n in range(3))
        low = np.minimum(np.minimum(first, second), third)
        high = np.maximum(np.maximum(first, second), third)
        cells = _cells((low + high) / 2)
        # Sorting numbers is many times faster than telling their order.
        count = len(cells)
        both = np.sort(cells * count + np.arange(count))
        #: Which triangle is at which place of the order by cells.
        self._order, cells = both % count, both // count
        starts = np.flatnonzero(np.append(True, cells[1:] != cells[:-1]))
        self._first, self._count = starts, np.diff(np.append(starts, count))
        self._low, self._high = low[:, self._order], high[:, self._order]
        self.low = np.minimum.reduceat(self._low, starts, axis=1)
        self.high = np.maximum.reduceat(self._high, starts, axis=1)

    @classmethod
    def of(cls, mesh: Mesh) -> TriangleGrid:
        """Return the grid of a mesh, made once."""
        if mesh not in cls._known:
            cls._known[mesh] = cls(mesh)
        return cls._known[mesh]

    def meeting(self, low: Array, high: Array) -> Iterator[Pairs]:
        """Yield pairs of boxes ``low, high (n, 3)`` and triangles whose boxes meet them.

        ``(k,)`` numbers of boxes, rising, and of triangles, rising for each box; all of a box's
        come together.
        """
        for which, cells in self._cells_meeting(low, high, np.arange(len(low))):
            for k, at in self._opened(which, cells):
                is_near = self._are_met(at, low[k], high[k])
                yield self._numbered(k[is_near], at[is_near])

    def crossing(self, places: Array, along: Array, wide: float) -> Iterator[Pairs]:
        """Yield pairs of planes and triangles, as ``meeting`` does: those that may be cut.

        Planes go through ``places (n, 3)`` square to unit ``along (n, 3)``; of triangles whose
        boxes come within ``wide`` of the place, by axes, m.
        """
        low, high = places - wide, places + wide
        for which, cells in self._cells_meeting(low, high, np.arange(len(places))):
            is_cut = _may_cut(places[which], along[which], self.low[:, cells], self.high[:, cells])
            for k, at in self._opened(which[is_cut], cells[is_cut]):
                is_near = _may_cut(places[k], along[k], self._low[:, at], self._high[:, at])
                is_near &= self._are_met(at, low[k], high[k])
                yield self._numbered(k[is_near], at[is_near])

    def triangles_in(self, which: IntArray, cells: IntArray) -> Iterator[Pairs]:
        """Yield pairs of ``which (n,)``, rising, and the triangles of ``cells (n,)``."""
        for k, at in self._opened(which, cells):
            yield self._numbered(k, at)

    def cells_beyond(self, places: Array, inner: float, outer: float) -> Iterator[Pairs]:
        """Yield pairs of ``places (n, 3)`` and cells more than ``inner`` and up to ``outer`` off.

        By the axis along which they are farthest apart, m.
        """
        numbers, wide = np.arange(len(places)), outer + ROUNDING
        for which, cells in self._cells_meeting(places - wide, places + wide, numbers):
            # By one formula for both limits: what rounding puts beyond one is within the next.
            off = np.full(len(which), -np.inf)
            for k in range(3):
                x = places[which, k]
                np.maximum(off, self.low[k, cells] - x, out=off)
                np.maximum(off, x - self.high[k, cells], out=off)
            is_it = (off > inner) & (off <= outer)
            yield which[is_it], cells[is_it]

    def gaps(self, places: Array, cells: IntArray) -> Array:
        """How far ``places (k, 3)`` are from the boxes of their ``cells (k,)`` at least, m."""
        square = np.zeros(len(places))
        for k in range(3):
            x = places[:, k]
            gap = np.maximum(self.low[k, cells] - x, x - self.high[k, cells])
            square += np.maximum(gap, 0.0) ** 2
        return np.asarray(np.sqrt(square))

    def farthest(self, places: Array) -> Array:
        """How far ``places (n, 3)`` are from what is farthest of all, by axes, m ``(n,)``."""
        low, high = self.low.min(axis=1), self.high.max(axis=1)
        return np.asarray(np.maximum(places - low, high - places).max(axis=1))

    def may_be_nearest(self, place: Array) -> IntArray:
        """Return the triangles that may be nearest to a place ``(3,)``, by their boxes."""
        cells = _nearest_boxes(self.low, self.high, place)
        at = self._all_in(cells, cells)[1]
        at = at[_nearest_boxes(self._low[:, at], self._high[:, at], place)]
        return self._numbered(np.zeros(len(at), np.int64), at)[1]

    def _cells_meeting(self, low: Array, high: Array, boxes: IntArray) -> Iterator[Pairs]:
        """Yield pairs of those ``boxes`` and cells that meet; neighbours stay together."""
        if not len(boxes):
            return
        lowest, highest = low[boxes].min(axis=0), high[boxes].max(axis=0)
        is_near = np.ones(self.low.shape[1], dtype=bool)
        for k in range(3):
            is_near &= self.low[k] <= highest[k]
            is_near &= self.high[k] >= lowest[k]
        cells = np.flatnonzero(is_near)
        if len(boxes) * len(cells) > _AT_ONCE and len(boxes) > 1:
            for half in np.array_split(boxes, 2):
                yield from self._cells_meeting(low, high, half)
            return
        meets = np.ones((len(boxes), len(cells)), dtype=bool)
        for k in range(3):
            meets &= self.low[k, cells] <= high[boxes, k, None]
            meets &= self.high[k, cells] >= low[boxes, k, None]
        which, some = np.nonzero(meets)
        yield boxes[which], cells[some]

    def _opened(self, which: IntArray, cells: IntArray) -> Iterator[Pairs]:
        """Yield pairs of ``which (n,)``, rising, and places in the order of what ``cells`` hold.

        About so many at a time as may be worked out in one go; all of a ``which`` come together.
        """
        if not len(which):
            return
        is_first = np.append(True, which[1:] != which[:-1])
        before = np.cumsum(self._count[cells]) - self._count[cells]
        part = before[is_first] // _AT_ONCE
        starts = np.flatnonzero(is_first)[np.append(True, part[1:] != part[:-1])]
        for start, end in itertools.pairwise([*starts.tolist(), len(which)]):
            yield self._all_in(which[start:end], cells[start:end])

    def _are_met(self, at: IntArray, low: Array, high: Array) -> BoolArray:
        """Tell of places in the order whether boxes ``low, high (k, 3)`` meet the triangles'."""
        is_met = np.ones(len(at), dtype=bool)
        for k in range(3):
            is_met &= self._low[k, at] <= high[:, k]
            is_met &= self._high[k, at] >= low[:, k]
        return is_met

    def _all_in(self, which: IntArray, cells: IntArray) -> Pairs:
        """Return pairs of ``which (n,)`` and places in the order, of all triangles of ``cells``."""
        count = self._count[cells]
        ends = np.cumsum(count)
        at = np.arange(ends[-1]) + np.repeat(self._first[cells] - ends + count, count)
        return np.repeat(which, count), at

    def _numbered(self, which: IntArray, at: IntArray) -> Pairs:
        """Return pairs with the numbers of triangles for places in the order, sorted."""
        count = len(self._order)
        both = np.sort(which * count + self._order[at])
        return both // count, both % count


def _nearest_boxes(low: Array, high: Array, place: Array) -> IntArray:
    """Return which of boxes ``low, high (3, n)`` may hold what is nearest to a place ``(3,)``."""
    x = place[:, None]
    gaps = np.maximum(np.maximum(low - x, x - high), 0.0)
    far = np.maximum(np.abs(low - x), np.abs(high - x))
    surely = np.sqrt((far**2).sum(axis=0)).min()
    return np.flatnonzero(np.sqrt((gaps**2).sum(axis=0)) <= surely + ROUNDING)


def _may_cut(places: Array, along: Array, low: Array, high: Array) -> BoolArray:
    """Tell which boxes ``low, high (3, k)`` the planes through ``places (k, 3)`` may cut."""
    height, half = np.zeros(len(places)), np.full(len(places), ROUNDING)
    for k in range(3):
        height += ((low[k] + high[k]) / 2 - places[:, k]) * along[:, k]
        half += (high[k] - low[k]) / 2 * np.abs(along[:, k])
    return np.asarray(np.abs(height) <= half)


def _cells(middles: Array) -> IntArray:
    """Return a number of the cell that each of ``middles (3, m)`` lies in ``(m,)``.

    Up to about ``m ** 1.5``: no box has more cells along two of its sides than triangles.
    """
    count = middles.shape[1]
    from_low = middles - middles.min(axis=1)[:, None]
    a, b, c = from_low.max(axis=1).tolist()
    # Triangles lie on surfaces: those of a box, or along a rod.
    surface = 2 * (a * b + b * c + c * a)
    wide = max(np.sqrt(surface * _IN_A_CELL / count), max(a, b, c) * _IN_A_CELL / count)
    if wide <= 0.0:
        return np.zeros(count, dtype=np.int64)
    x, y, z = (from_low / wide).astype(np.int64)
    return np.asarray((x * (int(b / wide) + 1) + y) * (int(c / wide) + 1) + z)

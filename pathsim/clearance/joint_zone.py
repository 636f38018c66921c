"""Where two things that a joint joins touch by design: round its axis, or along its guides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from pathsim.clearance.obstacle import OWN_CAP
from pathsim.model import Mesh
from pathsim.transforms import Array, BoolArray

#: Profiles of guides are kept in a grid so fine, m, each over so many slices along the slide.
_CELL, _SLICES = 2e-3, 24
#: A guide is there in at least this share of the slices; an end stop is in a few of them alone.
_SHARE = 0.75
#: A wall may lean or be bowed so far and still count as running along, m.
_LEAN = 4e-3
#: Faces of a bearing that are at most so far apart still count as meeting, m.
_MEETING = 6e-3
#: Two faces square to the axis lie on each other where the two share no more of it than this, m.
_FLAT = 2e-3
#: Corners of triangles cut at the zone's border are at most this far inside it, m.
FINEST = 4e-3
#: The zone is so much wider than the bearing, m: what is left of one side then stays farther than
#: ``OWN_CAP`` from what is left of the other, with the facets of round faces and ``FINEST``.
PAD = OWN_CAP + FINEST + 2e-3
#: A bearing may be broken by notches on this share of its way round.
_NOTCHES = 0.2
#: Two capsules that end at one place meet up to r / cos(fold / 2) from it: twice r holds any fold
#: up to 120 deg. Solids that stand for castings get that much more room; castings do not.
_SOLIDS = 2.0
_SECTORS = 36
#: Places looked at along an edge are so far apart, m; nearer the axis a sector is narrower.
_STEP, _FINEST_STEP = 3e-3, 1e-4
#: Layers square to the axis are as thick as ``_MEETING``, or thicker where that makes too many.
_MOST_LAYERS = 60


@dataclass(frozen=True)
class RoundZone:
    """Round a turning joint's axis (z): within ``radii`` of it in layers from ``low`` upwards, m.

    Each layer is ``step`` m thick; a radius of 0 is none.
    """

    radii: tuple[float, ...]
    low: float
    step: float

    @property
    def radius(self) -> float:
        """How far it reaches from the axis anywhere, m."""
        return max(self.radii)

    def sort(self, triangles: Array) -> tuple[BoolArray, BoolArray]:
        """Tell which of ``triangles (n, 3, 3)`` lie wholly inside, and which wholly outside."""
        # Numbers of one kind stand together: a least one of three, triangle by triangle, takes
        # several times as long as one of three long rows.
        x, y, z = np.ascontiguousarray(triangles.transpose(2, 1, 0))
        lowest = np.floor((_least(z) - self.low) / self.step).astype(np.int64)
        highest = np.floor((_most(z) - self.low) / self.step).astype(np.int64)
        count = len(self.radii)
        least, most = self._over_layers
        rows = np.clip(lowest, 0, count - 1), np.clip(highest, 0, count - 1)
        held, reach = least[rows], most[rows]
        # A radius of 0 holds nothing, not even the axis.
        farthest = np.sqrt(_most(x * x + y * y))
        inside = (lowest >= 0) & (highest < count) & (farthest <= held) & (held > 0)
        outside = (highest < 0) | (lowest >= count) | (reach <= 0)
        # Boxes round them settle most; only for what is left the way to the axis is worked out.
        gap_x, gap_y = (np.maximum(np.maximum(_least(c), -_most(c)), 0.0) for c in (x, y))
        outside |= gap_x * gap_x + gap_y * gap_y > reach * reach
        left = np.flatnonzero(~(inside | outside))
        outside[left] = _axis_distance(x[:, left], y[:, left]) > reach[left]
        return inside, outside

    @cached_property
    def _over_layers(self) -> tuple[Array, Array]:
        """Least and largest radius ``(n, n)`` of all layers from one to another."""
        radii = np.array(self.radii)
        least, most = (np.zeros((len(radii), len(radii))) for _ in range(2))
        for k in range(len(radii)):
            least[k, k:] = np.minimum.accumulate(radii[k:])
            most[k, k:] = np.maximum.accumulate(radii[k:])
        return least, most

    def grown(self, factor: float) -> RoundZone:
        """Return the zone with its radii so much larger, and longer both ways by as much."""
        more = int(np.ceil((factor - 1) * self.radius / self.step))
        radii = _wider(np.array(self.radii), more) * factor
        return RoundZone(tuple(radii.tolist()), self.low - more * self.step, self.step)

    def above(self, height: float) -> RoundZone:
        """Return the zone without all layers that begin below a height."""
        radii = (r if self.low + k * self.step >= height else 0.0 for k, r in enumerate(self.radii))
        return RoundZone(tuple(radii), self.low, self.step)


def _wider(radii: Array, layers: int) -> Array:
    """Return radii with so many layers more at both ends, each the largest that near."""
    padded = np.pad(radii, 2 * layers)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * layers + 1, axis=0)
    return np.asarray(windows.max(axis=-1))


class Bearing(NamedTuple):
    """Where two things hold each other, and whether they can come near elsewhere."""

    zone: RoundZone | None
    is_parted: bool


def bearing(first: Mesh, second: Mesh, *, are_solids: bool = False, rests: bool = False) -> Bearing:
    """Return where two meshes, both in the axis' frame, hold each other round it.

    A bearing goes round the axis on at least one of the two, and the other has something there, at
    the same height. So its radius in a layer is how far the wider one goes round, but not farther
    than the other goes at all. ``are_solids``: simple solids stand for them. ``rests``: the one may
    lie on the other as far as both go, face on face, as a plate on its stand.

    They are parted where one lies above what both reach and the other below, and all of both that
    lies in between is in the zone, as of two castings that meet in a flange.
    """
    (a, b), (c, d) = first.bounds[:, 2], second.bounds[:, 2]
    low, high = max(a, c) - _MEETING, min(b, d) + _MEETING
    if low > high:
        return Bearing(None, is_parted=True)
    count = int(np.clip((high - low) // _MEETING, 1, _MOST_LAYERS))
    step = (high - low) / count
    # What lies in the layer above or below is as near as faces of a bearing may be.
    near = [
        np.pad(radii_round(mesh, low, high, count), ((1, 1), (0, 0))) for mesh in (first, second)
    ]
    near = [np.maximum(np.maximum(r[:-2], r[1:-1]), r[2:]) for r in near]
    farthest = [r.max(axis=1) for r in near]
    radii = np.minimum(*farthest)
    if not rests or min(b, d) - max(a, c) > _FLAT:
        radii = np.minimum(radii, np.maximum(*(np.quantile(r, _NOTCHES, axis=1) for r in near)))
    if not (radii > 0).any():
        return Bearing(None, is_parted=False)
    radii *= _SOLIDS if are_solids else 1.0
    more = int(np.ceil(PAD / step))
    wide = _wider(radii, more)
    wide = np.where(wide > 0, wide + PAD, 0.0)
    is_stacked = (a < c and b < d) or (c < a and d < b)
    is_held = np.maximum(*farthest) <= wide[more:-more] - FINEST
    zone = RoundZone(tuple(wide.tolist()), float(low - more * step), float(step))
    return Bearing(zone, is_parted=bool(is_stacked and is_held.all()))


def radii_round(mesh: Mesh, low: float, high: float, layers: int) -> Array:
    """How far a mesh goes from the z axis in each sector round it, in layers of height, m.

    ``(layers, 36)``; 0 where it has nothing. Looked at along its edges, and along where the planes
    between the layers cut it: the farthest place of a layer is among these.
    """
    triangles = mesh.vertices[mesh.faces]
    z = triangles[..., 2]
    triangles = triangles[(z.max(axis=1) >= low) & (z.min(axis=1) <= high)]
    edges = triangles.reshape(-1, 3), np.roll(triangles, -1, axis=1).reshape(-1, 3)
    points = _places(*_clipped(*edges, low, high))
    step = (high - low) / layers
    layer = np.clip(np.floor((points[:, 2] - low) / step).astype(np.int64), 0, layers - 1)
    found = np.zeros((layers, _SECTORS))
    _count_in(found, layer, points)
    for k in range(layers + 1):
        points = _places(*section(triangles, low + k * step))
        for beside in {max(k - 1, 0), min(k, layers - 1)}:
            _count_in(found, np.full(len(points), beside), points)
    return found


def _places(start: Array, end: Array) -> Array:
    """Return places on lines, close enough for each sector that a line goes through."""
    way = end - start
    square = (way[:, :2] ** 2).sum(axis=1)
    share = -(start * way)[:, :2].sum(axis=1) / np.where(square > 0, square, 1.0)
    nearest = start[:, :2] + np.clip(share, 0.0, 1.0)[:, None] * way[:, :2]
    sector = np.linalg.norm(nearest, axis=1) * 2 * np.pi / _SECTORS
    return along(start, end, np.clip(sector, _FINEST_STEP, _STEP))


def _count_in(found: Array, layer: np.ndarray, points: Array) -> None:
    turns = np.arctan2(points[:, 1], points[:, 0]) / (2 * np.pi)
    sector = (turns * _SECTORS).astype(np.int64) % _SECTORS
    np.maximum.at(found, (layer, sector), np.hypot(points[:, 0], points[:, 1]))


def section(triangles: Array, height: float) -> tuple[Array, Array]:
    """Return the ends ``(k, 3)`` each of the lines in which a plane square to z cuts triangles."""
    order = np.argsort(triangles[..., 2], axis=1)
    a, b, c = np.moveaxis(np.take_along_axis(triangles, order[..., None], axis=1), 1, 0)
    cut = (a[:, 2] < height) & (c[:, 2] > height)
    a, b, c = a[cut], b[cut], c[cut]
    above = (b[:, 2] > height)[:, None]
    return _at_height(a, c, height), _at_height(
        np.where(above, a, b), np.where(above, b, c), height
    )


def _at_height(start: Array, end: Array, height: float) -> Array:
    rise = end[:, 2] - start[:, 2]
    share = np.where(rise > 0, (height - start[:, 2]) / np.where(rise > 0, rise, 1.0), 0.0)
    return np.asarray(start + share[:, None] * (end - start))


def _clipped(start: Array, end: Array, low: float, high: float) -> tuple[Array, Array]:
    """Return lines ``(n, 3)`` cut off at two heights; those wholly beyond are left out."""
    swap = (start[:, 2] > end[:, 2])[:, None]
    start, end = np.where(swap, end, start), np.where(swap, start, end)
    some = (end[:, 2] >= low) & (start[:, 2] <= high)
    start, end = start[some], end[some]
    first = np.where((start[:, 2] < low)[:, None], _at_height(start, end, low), start)
    last = np.where((end[:, 2] > high)[:, None], _at_height(start, end, high), end)
    return first, last


def along(start: Array, end: Array, step: float | Array) -> Array:
    """Return places on lines, both ends and at most ``step`` m, or ``(n,)`` m, apart."""
    count = np.ceil(np.linalg.norm(end - start, axis=1) / step).astype(np.int64) + 1
    line = np.repeat(np.arange(len(count)), count)
    number = np.arange(len(line)) - np.repeat(np.cumsum(count) - count, count)
    share = (number / np.maximum(count - 1, 1)[line])[:, None]
    return np.asarray(start[line] + share * (end - start)[line])


def axis_distance(flat: Array) -> Array:
    """Distance ``(n,)`` of the origin from triangles in the plane ``(n, 3, 2)``; 0 inside them."""
    return _axis_distance(*np.ascontiguousarray(flat.transpose(2, 1, 0)))


def _axis_distance(x: Array, y: Array) -> Array:
    """Return the same of corners ``x (3, n)``, ``y (3, n)``."""
    gaps, turns = [], []
    for k in range(3):
        ax, ay, bx, by = x[k], y[k], x[k - 2], y[k - 2]
        way_x, way_y = bx - ax, by - ay
        square = way_x * way_x + way_y * way_y
        share = -(ax * way_x + ay * way_y) / np.where(square > 0, square, 1.0)
        share = np.minimum(np.maximum(share, 0.0), 1.0)
        px, py = ax + share * way_x, ay + share * way_y
        gaps.append(px * px + py * py)
        turns.append(ax * by - ay * bx)
    around = (_least(turns) > 0) | (_most(turns) < 0)
    return np.asarray(np.where(around, 0.0, np.sqrt(_least(gaps))))


def _least(rows: Sequence[Array] | Array) -> Array:
    return np.minimum(np.minimum(rows[0], rows[1]), rows[2])


def _most(rows: Sequence[Array] | Array) -> Array:
    return np.maximum(np.maximum(rows[0], rows[1]), rows[2])


@dataclass(frozen=True, eq=False)
class GuideZone:
    """Near the walls that run all along the slide's axis (z), however far along it.

    ``sums (n + 1, m + 1)``: how many cells of a grid, which begins at ``corner (2,)``, lie in the
    zone, counted up from there. ``width`` m: how far the zone reaches from those walls.
    """

    corner: Array
    sums: np.ndarray
    width: float = PAD

    def sort(self, triangles: Array) -> tuple[BoolArray, BoolArray]:
        """Tell which of ``triangles (n, 3, 3)`` lie wholly inside, and which wholly outside."""
        cells = np.floor((triangles[..., :2] - self.corner) / _CELL).astype(np.int64)
        low, high = cells.min(axis=1), cells.max(axis=1) + 1
        most = np.array(self.sums.shape) - 1
        first, last = np.clip(low, 0, most), np.clip(high, 0, most)
        s = self.sums
        held = (
            s[last[:, 0], last[:, 1]] - s[first[:, 0], last[:, 1]]
            - s[last[:, 0], first[:, 1]] + s[first[:, 0], first[:, 1]]
        )  # fmt: skip
        return held == (high - low).prod(axis=1), held == 0


def guide_zone(first: Mesh, second: Mesh) -> GuideZone | None:
    """Return the zone of two meshes in the frame of the slide's axis; None if nothing runs along.

    The longer of the two along the axis has the guides.
    """
    lengths = [float(np.ptp(mesh.bounds[:, 2])) for mesh in (first, second)]
    guide = first if lengths[0] >= lengths[1] else second
    low, high = guide.bounds
    corner = low[:2] - PAD - 2 * _CELL
    shape = np.ceil((high[:2] + PAD + 2 * _CELL - corner) / _CELL).astype(np.int64) + 1
    triangles = guide.vertices[guide.faces]
    found = np.zeros(shape, np.int64)
    # Slices stand in the middle of equal pieces: none lies in a face at an end.
    for height in low[2] + (np.arange(_SLICES) + 0.5) / _SLICES * (high[2] - low[2]):
        points = along(*section(triangles, height), _CELL / 2)
        walls = np.zeros(shape, dtype=bool)
        walls[tuple(np.floor((points[:, :2] - corner) / _CELL).astype(np.int64).T)] = True
        found += _grown(walls, _LEAN)
    running = _grown(found >= _SHARE * _SLICES, PAD - _LEAN)
    if not running.any():
        return None
    sums = np.zeros(shape + 1, np.int64)
    sums[1:, 1:] = running.cumsum(axis=0).cumsum(axis=1)
    return GuideZone(corner, sums)


def _grown(cells: np.ndarray, by: float) -> np.ndarray:
    """Return cells, and all whose middle is at most ``by`` m from the middle of one of them."""
    from scipy.ndimage import distance_transform_edt

    if not cells.any():
        return cells
    return np.asarray(distance_transform_edt(~cells) * _CELL <= by)

"""Where two things that a joint joins touch by design: round its axis, or along its guides."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pathsim.clearance.rules import OWN_CAP
from pathsim.model import Mesh
from pathsim.transforms import Array, Flags

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
_LEVELS = 9
_STEP = 3e-3  # m, between places looked at along an edge


@dataclass(frozen=True)
class RoundZone:
    """Within ``radius`` of a turning joint's axis (z), from ``low`` to ``high`` along it, m."""

    radius: float
    low: float
    high: float

    def sort(self, triangles: Array) -> tuple[Flags, Flags]:
        """Tell which of ``triangles (n, 3, 3)`` lie wholly inside, and which wholly outside."""
        z, flat = triangles[..., 2], triangles[..., :2]
        low, high = z.min(axis=1), z.max(axis=1)
        inside = (low >= self.low) & (high <= self.high)
        inside &= np.linalg.norm(flat, axis=-1).max(axis=1) <= self.radius
        outside = (high < self.low) | (low > self.high) | (axis_distance(flat) > self.radius)
        return inside, outside

    def grown(self, factor: float) -> RoundZone:
        """Return the zone with another radius, and as much longer both ways."""
        more = (factor - 1) * self.radius
        return RoundZone(self.radius + more, self.low - more, self.high + more)


class Bearing(NamedTuple):
    """Where two things hold each other, and whether they can come near elsewhere."""

    zone: RoundZone | None
    is_parted: bool


def bearing(first: Mesh, second: Mesh, are_solids: bool) -> Bearing:
    """Return where two meshes, both in the axis' frame, hold each other round it.

    A bearing goes round the axis on at least one of the two, and the other has something there. So
    its radius is how far the wider one goes round, but not farther than the other goes at all. All
    that is counted between the planes square to the axis that both of them reach.
    Faces square to the axis that only lie on each other stay so as far as both go: a plate on its
    stand. ``are_solids``: simple solids stand for them.

    They are parted where one lies above those planes and the other below, and both are in the zone
    in between, as two castings that meet in a flange.
    """
    (a, b), (c, d) = first.bounds[:, 2], second.bounds[:, 2]
    low, high = max(a, c) - _MEETING, min(b, d) + _MEETING
    if low > high:
        return Bearing(None, is_parted=True)
    radii = [radii_round(mesh, low, high) for mesh in (first, second)]
    ring = max(float(np.quantile(each, _NOTCHES)) for each in radii)
    farthest = [float(each.max()) for each in radii]
    is_flat = min(b, d) - max(a, c) <= _FLAT
    radius = min(farthest) if is_flat else min(ring, *farthest)
    if radius <= 0:
        return Bearing(None, is_parted=False)
    radius *= _SOLIDS if are_solids else 1.0
    is_stacked = (a < c and b < d) or (c < a and d < b)
    return Bearing(
        RoundZone(radius + PAD, low - PAD, high + PAD),
        is_parted=bool(is_stacked) and max(farthest) <= radius + PAD - FINEST,
    )


def radii_round(mesh: Mesh, low: float, high: float) -> Array:
    """How far a mesh goes from the z axis in each sector round it, between two heights, m.

    ``(36,)``; 0 in a sector where it has nothing. Looked at along its edges, and along where the
    planes of the two heights and some in between cut it: flat faces are farthest at such places.
    """
    triangles = mesh.vertices[mesh.faces]
    z = triangles[..., 2]
    triangles = triangles[(z.max(axis=1) >= low) & (z.min(axis=1) <= high)]
    starts, ends = [triangles.reshape(-1, 3)], [np.roll(triangles, -1, axis=1).reshape(-1, 3)]
    for height in np.linspace(low, high, _LEVELS):
        start, end = section(triangles, height)
        starts.append(start)
        ends.append(end)
    points = along(*_clipped(np.concatenate(starts), np.concatenate(ends), low, high), _STEP)
    found = np.zeros(_SECTORS)
    turns = np.arctan2(points[:, 1], points[:, 0]) / (2 * np.pi)
    sector = (turns * _SECTORS).astype(np.int64) % _SECTORS
    np.maximum.at(found, sector, np.hypot(points[:, 0], points[:, 1]))
    return found


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


def along(start: Array, end: Array, step: float) -> Array:
    """Return places on lines, both ends and at most ``step`` m apart."""
    count = np.ceil(np.linalg.norm(end - start, axis=1) / step).astype(np.int64) + 1
    line = np.repeat(np.arange(len(count)), count)
    number = np.arange(len(line)) - np.repeat(np.cumsum(count) - count, count)
    share = (number / np.maximum(count - 1, 1)[line])[:, None]
    return np.asarray(start[line] + share * (end - start)[line])


def axis_distance(flat: Array) -> Array:
    """Distance ``(n,)`` of the origin from triangles in the plane ``(n, 3, 2)``; 0 inside them."""
    start, end = flat, np.roll(flat, -1, axis=1)
    way = end - start
    square = (way**2).sum(axis=-1)
    share = np.clip(-(start * way).sum(axis=-1) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    gap = np.linalg.norm(start + share[..., None] * way, axis=-1).min(axis=1)
    turn = start[..., 0] * end[..., 1] - start[..., 1] * end[..., 0]
    around = (turn > 0).all(axis=1) | (turn < 0).all(axis=1)
    return np.asarray(np.where(around, 0.0, gap))

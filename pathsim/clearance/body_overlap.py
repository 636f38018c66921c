"""How deep one body lies in another, and how far apart two are, by triangles where they meet.

Bodies that stand still are compared once. A depth is sampled: places on the surface of each, at
most a twentieth of the common box apart, are tested for lying inside the other, and the deepest of
those is told. It is no bound: a thinner spike may go deeper.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.geometry.cut_out import halved
from pathsim.model import Mesh, Role
from pathsim.model.turning_table import StandsOn
from pathsim.transforms import Array, BoolArray, apply

#: Places are at least this far from each other, m: nobody asks for tenths of a depth.
_FINEST = 1e-3
_PARTS = 20
#: So many places of each body are tested, and so many triangles at once with them.
_MOST_PLACES, _MOST_TESTS = 300, 4_000_000
#: Off any grid that corners are drawn on, m: a ray never runs along an edge.
_JITTER = np.array([1.37e-6, 2.11e-6, 0.73e-6])


@dataclass(frozen=True, eq=False)
class Placed:
    """A body where it stands: ``mesh`` in its own frame, put in the world by ``T_world_body``."""

    name: str
    role: Role | None
    mesh: Mesh
    T_world_body: Array
    stands_on: StandsOn = StandsOn.FLOOR
    bears: str | None = None

    @cached_property
    def triangles(self) -> Array:
        """``(n, 3, 3)`` in the world."""
        return np.asarray(apply(self.T_world_body, self.mesh.vertices)[self.mesh.faces])

    @cached_property
    def _boxes(self) -> tuple[Array, Array]:
        return self.triangles.min(axis=1), self.triangles.max(axis=1)

    @cached_property
    def bounds(self) -> Array:
        """``(2, 3)``: lowest and highest corner in the world."""
        R = self.T_world_body[:3, :3]
        is_square = np.abs(np.abs(R) - np.round(np.abs(R))).max() < 1e-12
        # The box of a box is as good as that of the body where sides stay along the axes.
        points = self.mesh.corners if is_square else self.mesh.used
        x, y, z = apply(self.T_world_body, points).T
        return np.array([[x.min(), y.min(), z.min()], [x.max(), y.max(), z.max()]])

    @property
    def size(self) -> Array:
        """Sides ``(3,)`` of its box in the world, m."""
        return np.asarray(self.bounds[1] - self.bounds[0])

    def within(self, low: Array, high: Array, axes: tuple[int, ...] = (0, 1, 2)) -> Array:
        """Triangles ``(k, 3, 3)`` whose boxes meet a box, along ``axes`` alone."""
        first, last = self._boxes
        near = np.ones(len(first), dtype=bool)
        for k in axes:
            near &= (first[:, k] <= high[k]) & (last[:, k] >= low[k])
        return np.asarray(self.triangles[near])


@dataclass(frozen=True)
class Overlap:
    """How one body lies in another: ``depth`` m, and the sides of the common part, longest first.

    The sides are along the axes in which the smaller one was drawn: a pin that leans is a pin.
    """

    depth: float
    sides: tuple[float, float, float]


NOTHING = Overlap(0.0, (0.0, 0.0, 0.0))


def deepest_possible(first: Placed, second: Placed) -> float:
    """Bound from the boxes on how deep a place of one can be inside the other, m."""
    low = np.maximum(first.bounds[0], second.bounds[0])
    high = np.minimum(first.bounds[1], second.bounds[1])
    if (high < low).any():
        return 0.0
    # A place in the common box is no deeper in a body than its way out through a face of its box.
    ways = [np.minimum(high - b.bounds[0], b.bounds[1] - low).min() for b in (first, second)]
    return float(max(ways))


def overlap_of(first: Placed, second: Placed) -> Overlap:
    """Return how two bodies lie in each other."""
    low = np.maximum(first.bounds[0], second.bounds[0])
    high = np.minimum(first.bounds[1], second.bounds[1])
    if (high < low).any():
        return NOTHING
    depth, found = 0.0, []
    for one, other in ((first, second), (second, first)):
        places = _places(one, low, high)
        places = places[_inside(places, other)]
        depth = max(depth, float(_depths(places, other).max(initial=0.0)))
        found.append(places)
    points = np.concatenate(found)
    if not len(points):
        return NOTHING
    smaller = min((first, second), key=lambda body: float(np.linalg.norm(body.size)))
    drawn = points @ smaller.T_world_body[:3, :3]
    a, b, c = sorted(np.ptp(drawn, axis=0).tolist(), reverse=True)
    return Overlap(depth, (a, b, c))


def share_taken(first: Placed, second: Placed) -> float:
    """Of places all over the first body, how many lie inside the second one or on its surface."""
    places = _places(first, *first.bounds)
    places = places[:: max(1, len(places) // 100)]
    if not len(places):
        return 0.0
    taken = _inside(places, second)
    taken[~taken] = _depths(places[~taken], second) <= _FINEST
    return float(taken.mean())


def gap_of(first: Placed, second: Placed, most: float) -> float:
    """Distance of two bodies where it is at most ``most`` m, inf where it is more; 0 inside."""
    low = np.maximum(first.bounds[0], second.bounds[0]) - most
    high = np.minimum(first.bounds[1], second.bounds[1]) + most
    if (high < low).any():
        return np.inf
    # Mostly the middle of where they meet tells; all of a large face takes long.
    middle, part = (low + high) / 2, (high - low) / 16
    boxes = [(np.maximum(middle - part, low), np.minimum(middle + part, high)), (low, high)]
    for box in boxes:
        near = [body.within(*box) for body in (first, second)]
        if min(len(each) for each in near):
            distance = Shape(_mesh(near[0])).distance(Shape(_mesh(near[1])))[0]
            if distance <= (_FINEST if box is boxes[0] else most):
                return distance
    corner = first.triangles[:1, 0], second.triangles[:1, 0]
    if _inside(corner[0], second).any() or _inside(corner[1], first).any():
        return 0.0
    return np.inf


def _places(body: Placed, low: Array, high: Array) -> Array:
    """Places ``(n, 3)`` all over the part of a body's surface that lies in a box."""
    triangles = body.within(low, high)
    finest = max(float(np.linalg.norm(high - low)) / _PARTS, _FINEST)
    kept = []
    while len(triangles):
        sides = np.linalg.norm(np.roll(triangles, -1, axis=1) - triangles, axis=2)
        done = sides.max(axis=1) <= finest
        kept.append(triangles[done].mean(axis=1))
        kept.append(triangles[done][:, 0])
        triangles = halved(triangles[~done], sides[~done].argmax(axis=1))
        near = (triangles.max(axis=1) >= low).all(axis=1) & (triangles.min(axis=1) <= high).all(
            axis=1
        )
        triangles = triangles[near]
    places = np.concatenate([np.zeros((0, 3)), *kept])
    places = places[((places >= low) & (places <= high)).all(axis=1)]
    return np.asarray(places[:: max(1, len(places) // _MOST_PLACES)])


def _inside(places: Array, body: Placed) -> BoolArray:
    """Tell which of ``places (n, 3)`` lie inside: two of three rays cross the body oddly often."""
    odd = np.zeros(len(places), np.int64)
    if not len(places):
        return odd > 0
    low, high = places.min(axis=0) - 1e-5, places.max(axis=0) + 1e-5
    for axis in range(3):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        triangles = body.within(low, high, (u, v))
        step = max(1, _MOST_TESTS // max(len(triangles), 1))
        for start in range(0, len(places), step):
            some = places[start : start + step] + _JITTER
            odd[start : start + step] += _crossings(some, triangles, axis, u, v) % 2
    return odd >= 2


def _crossings(places: Array, triangles: Array, axis: int, u: int, v: int) -> np.ndarray:
    """How many triangles a ray along ``axis`` meets from each place ``(n,)``."""
    a, b, c = (triangles[None, :, k] for k in range(3))
    p = places[:, None]

    def turn(s: Array, e: Array) -> Array:
        return np.asarray(
            (e[..., u] - s[..., u]) * (p[..., v] - s[..., v])
            - (e[..., v] - s[..., v]) * (p[..., u] - s[..., u])
        )

    ab, bc, ca = turn(a, b), turn(b, c), turn(c, a)
    total = ab + bc + ca
    met = ((ab > 0) == (bc > 0)) & ((bc > 0) == (ca > 0)) & (total != 0)
    height = (bc * a[..., axis] + ca * b[..., axis] + ab * c[..., axis]) / np.where(met, total, 1.0)
    return np.asarray((met & (height > p[..., axis])).sum(axis=1))


def _depths(places: Array, body: Placed) -> Array:
    """Distance ``(n,)`` of places inside a body, or hardly outside, from its surface, m.

    At most: what lies farther outside may come out as inf.
    """
    if not len(places):
        return np.zeros(0)
    low, high = places.min(axis=0), places.max(axis=0)
    # No place inside is farther from the surface than half the body's shortest side.
    reach = float(body.size.min()) / 2 + 2 * _FINEST
    triangles = body.within(low - reach, high + reach)
    if not len(triangles):
        return np.full(len(places), np.inf)
    shape, spot = Shape(_mesh(triangles)), Shape(_mesh(np.zeros((1, 3, 3)) + _SPOT))
    found = np.empty(len(places))
    T = np.eye(4)
    for k, place in enumerate(places):
        T[:3, 3] = place
        spot.place(T)
        found[k] = spot.distance(shape)[0]
    return found


#: A triangle so small that it is a place, m.
_SPOT = np.array([[0.0, 0.0, 0.0], [1e-7, 0.0, 0.0], [0.0, 1e-7, 0.0]])


def _mesh(triangles: Array) -> Mesh:
    return Mesh(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3))

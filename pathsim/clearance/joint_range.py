"""Over which values of a joint what it joins is proved to be apart, outside its bearing.

With one joint in between everything depends on one number: its value. Between two values a and b no
point goes farther than L = lever (b - a), seen from the other side. With distances d0 and d1 there
the distance in between is at least (d0 + d1 - L) / 2, as in ``reference/engine.py``; what is proved
once of an arm holds for all its programs.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.clearance.joint_store import Apart, Known, Span, load_known, save_known
from pathsim.clearance.joint_zone import FINEST, axis_distance, bearing, guide_zone
from pathsim.clearance.obstacle import OWN_CAP
from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.geometry.containment_kernel import fast_solid_of
from pathsim.geometry.cut_out import Zone, cut_out
from pathsim.model import Mesh
from pathsim.transforms import Array, apply, inverse

#: Shorter ways than this are not divided further, m: then it is the engine that tells.
_FINEST_WAY = 4e-3
#: Values asked for are widened to whole steps, so that a point taught anew finds them known.
_TURN_STEP, _SLIDE_STEP = float(np.radians(10)), 0.1
#: So many values over its limits are looked at to see whether two castings are ever apart.
_LOOKS = 9
#: Zones of castings that never are get so much wider each time, at most so often.
_GROWTH, _MOST_GROWTHS = 1.25, 12
#: What stays so far from the other side whatever the joint does is left out of the search, m.
_NEVER_NEAR = 2 * OWN_CAP
#: So many places all over what is left are looked at to tell whether it lies within the other.
_PLACES = 24
#: How far behind the face of a flange a torch may reach into it, m.
_MOUNT = 0.03


@dataclass(frozen=True, eq=False)
class Sides:
    """The two things that a joint joins: what it stands on and what it moves.

    ``T_axis_standing``, ``T_axis_moving`` ``(4, 4)``: their frames in the axis', at zero.
    ``limits``: of the joint, rad or m. ``are_solids``: simple solids stand for castings.
    ``castings``: those that the joint holds together, where these are not they: what is exempt of
    them is exempt here too. ``grows``: where they touch over all of the limits, they were drawn
    into each other, and more is exempt. ``is_mount``: the moving side is screwed on top of the
    other; no screw or centring goes deeper than ``_MOUNT`` into it. ``rests``: it lies on it.
    """

    standing: Mesh
    moving: Mesh
    T_axis_standing: Array
    T_axis_moving: Array
    is_slide: bool
    limits: tuple[float, float]
    are_solids: bool = False
    castings: JointRange | None = None
    grows: bool = False
    is_mount: bool = False
    rests: bool = False


class JointRange:
    """Two things that a joint joins: where they touch by design, and when the rest is apart."""

    def __init__(self, sides: Sides) -> None:
        self.sides = sides

    @cached_property
    def _key(self) -> str:
        s = self.sides
        numbers = np.concatenate([s.T_axis_standing.ravel(), s.T_axis_moving.ravel(), s.limits])
        exact = np.round(numbers, 9) + 0.0
        flags = map(str, (s.is_slide, s.are_solids, s.grows, s.is_mount, s.rests))
        castings = "" if s.castings is None else s.castings._key
        return " ".join(
            [s.standing.digest, s.moving.digest, exact.tobytes().hex(), *flags, castings]
        )

    @cached_property
    def _meshes(self) -> tuple[Mesh, Mesh]:
        """Both in the axis' frame."""
        s = self.sides
        return s.standing.moved(s.T_axis_standing), s.moving.moved(s.T_axis_moving)

    @cached_property
    def known(self) -> Known:
        """What is known so far: worked out the first time on a computer, then kept."""
        kept = load_known(self._key)
        if kept is None:
            kept = Known(None)
            if not self.sides.is_slide:
                s = self.sides
                found = bearing(*self._meshes, are_solids=s.are_solids, rests=s.rests)
                zone = found.zone
                if self.sides.is_mount and zone is not None:
                    top = float(self._meshes[0].bounds[1, 2])
                    zone = zone.above(top - _MOUNT)
                kept = Known(zone, found.is_parted)
            save_known(self._key, kept)
        return kept

    @property
    def zones(self) -> tuple[Zone, ...]:
        """Where contact is by design, in the axis' frame."""
        own = self._guides if self.sides.is_slide else self.known.zone
        theirs = () if self.sides.castings is None else self.sides.castings.zones
        return (*theirs, *(() if own is None else (own,)))

    @cached_property
    def _guides(self) -> Zone | None:
        return guide_zone(*self._meshes)

    @cached_property
    def rest(self) -> tuple[Mesh | None, Mesh | None]:
        """What is left of the standing and of the moving side, in the axis' frame.

        None: nothing that could come near the other side.
        """
        first, second = self._meshes
        return self._left(first, second), self._left(second, first)

    def _left(self, mesh: Mesh, other: Mesh) -> Mesh | None:
        near = self._within_reach(mesh, other)
        return None if near is None else self._cut(near)

    def _cut(self, mesh: Mesh) -> Mesh | None:
        left: Mesh | None = mesh
        for zone in self.zones:
            left = None if left is None else cut_out(left, zone, FINEST)
        return left

    def _within_reach(self, mesh: Mesh, other: Mesh) -> Mesh | None:
        """Return the triangles that may come near the other side at some value of the joint."""
        low, high = other.bounds
        triangles = mesh.vertices[mesh.faces]
        if self.sides.is_slide:
            flat = triangles[..., :2]
            near = (flat.max(axis=1) >= low[:2] - _NEVER_NEAR).all(axis=1)
            near &= (flat.min(axis=1) <= high[:2] + _NEVER_NEAR).all(axis=1)
        else:
            z = triangles[..., 2]
            near = (z.max(axis=1) >= low[2] - _NEVER_NEAR) & (
                z.min(axis=1) <= high[2] + _NEVER_NEAR
            )
            reach = float(np.hypot(*other.vertices[other.faces].reshape(-1, 3).T[:2]).max())
            near &= axis_distance(triangles[..., :2]) <= reach + _NEVER_NEAR
        if not near.any():
            return None
        return Mesh(mesh.vertices, mesh.faces[near], is_cut=True)

    def over(self, low: float, high: float) -> Apart:
        """Tell what is known of the two from ``low`` to ``high``, rad or m."""
        if self.known.is_parted:
            return Apart.PROVED
        told = self.known.over(low, high)
        if told is None:
            found = self._worked_out(low, high)
            self.known.keep(found)
            save_known(self._key, self.known)
            told = found[2]
        return told

    def _worked_out(self, low: float, high: float) -> Span:
        if self.rest[0] is None or self.rest[1] is None:
            return -np.inf, np.inf, Apart.EXEMPT if self._is_all_exempt() else Apart.PROVED
        for first, last in dict.fromkeys([self._widened(low, high), (low, high)]):
            if self._is_apart(first, last) and self._told_inside(first, last) is None:
                return first, last, Apart.PROVED
        if self._grows():
            self._grow()
            return self._worked_out(low, high)
        return low, high, self._told_inside(low, high, is_proved=False) or Apart.ASK

    def _told_inside(self, low: float, high: float, *, is_proved: bool = True) -> Apart | None:
        """Tell whether somewhere on a range one side, outside the zones, lies in the other.

        Over what is proved to be apart no surfaces meet: nothing gets into what is closed, and
        one look tells of all of it, and of what goes on from it. Through a hole something may get
        in without meeting anything: then both ends are looked at, and each step that no proof
        covers. That is no proof: an open mesh has no inside that there could be one of.
        """
        solids = [fast_solid_of(mesh) for mesh in (self.sides.standing, self.sides.moving)]
        if all(solid.is_closed for solid in solids):
            goes_on = is_proved and self.known.proved_within(low, high)
            return None if goes_on else self._one_inside(low)
        values = {low, high}
        for start, end in self.known.not_proved(low, high):
            steps = int(np.ceil((end - start) / self._step)) + 1
            values.update(np.linspace(start, end, steps).tolist())
        return next(filter(None, map(self._one_inside, sorted(values))), None)

    @property
    def _step(self) -> float:
        return _SLIDE_STEP if self.sides.is_slide else _TURN_STEP

    def _is_all_exempt(self) -> bool:
        """Tell whether all of a side, near the other or not, lies where contact is by design."""
        return any(self._cut(mesh) is None for mesh in self._meshes)

    def _widened(self, low: float, high: float) -> tuple[float, float]:
        """Return whole steps round a range, within the joint's limits where the range is."""
        step = self._step
        first, last = np.floor(low / step) * step, np.ceil(high / step) * step
        lower, upper = self.sides.limits
        return float(min(low, max(first, lower))), float(max(high, min(last, upper)))

    def distance(self, value: float) -> float:
        """Distance of what is left of the two at a value of the joint, m."""
        standing, moving = self._shapes
        moving.place(self._pose(value))
        return moving.distance(standing)[0]

    @cached_property
    def _shapes(self) -> tuple[Shape, Shape]:
        standing, moving = self.rest
        assert standing is not None  # noqa: S101 - asked for where both are left
        assert moving is not None  # noqa: S101 - asked for where both are left
        return Shape(standing), Shape(moving)

    def _pose(self, value: float) -> Array:
        """Pose ``(4, 4)`` that the joint gives what it moves, in the axis' frame."""
        T = np.eye(4)
        if self.sides.is_slide:
            T[2, 3] = value
        else:
            c, s = np.cos(value), np.sin(value)
            T[:2, :2] = [[c, -s], [s, c]]
        return T

    @cached_property
    def _lever(self) -> float:
        """How far a point goes for a small move of the joint, seen from the other side."""
        if self.sides.is_slide:
            return 1.0
        # What turns against what is a matter of where one stands: the shorter side counts.
        standing, moving = self.rest
        sides = [mesh for mesh in (standing, moving) if mesh is not None]
        return min(float(np.hypot(*mesh.vertices.T[:2]).max()) for mesh in sides)

    def _is_apart(self, low: float, high: float) -> bool:
        """Prove that over all of a range the two stay farther apart than ``OWN_CAP``.

        Only over what no proof covers: a point that is dragged asks for a little more each time.
        """
        return all(self._is_apart_over(*gap) for gap in self.known.not_proved(low, high))

    def _is_apart_over(self, low: float, high: float) -> bool:
        ends = [(value, self.distance(value)) for value in (low, high)]
        open_spans = [(ends[0], ends[1])]
        while open_spans:
            (a, d0), (b, d1) = open_spans.pop()
            way = self._lever * (b - a)
            if (d0 + d1 - way) / 2 >= OWN_CAP:
                continue
            if way < _FINEST_WAY or min(d0, d1) < OWN_CAP:
                return False
            middle = ((a + b) / 2, self.distance((a + b) / 2))
            open_spans += [((a, d0), middle), (middle, (b, d1))]
        return True

    def _grows(self) -> bool:
        """Tell whether two castings touch over all of the joint's values: so they were drawn."""
        known = self.known
        may_grow = self.sides.grows and known.zone is not None and known.growth == 1
        return may_grow and self._touches_always()

    def _grow(self) -> None:
        """Widen the zone until the rest of the two is apart somewhere, or nothing is left."""
        for _ in range(_MOST_GROWTHS):
            zone = self.known.zone
            assert zone is not None  # noqa: S101 - it grows where there is one
            self.known.zone = zone.grown(_GROWTH)
            self.known.growth *= _GROWTH
            for name in ("rest", "_shapes", "_lever"):
                self.__dict__.pop(name, None)
            if self.rest[0] is None or self.rest[1] is None or not self._touches_always():
                return

    def _touches_always(self) -> bool:
        low, high = np.clip(self.sides.limits, -np.pi, np.pi)
        return all(self.distance(value) < OWN_CAP for value in np.linspace(low, high, _LOOKS))

    def _one_inside(self, value: float) -> Apart | None:
        """Tell whether something of one side, outside the zones, lies wholly in the other.

        Surfaces that do not meet leave all of a connected piece inside or outside.
        """
        if self.distance(value) <= 0:
            return None
        T, s = self._pose(value), self.sides
        T_standing_moving = inverse(s.T_axis_standing) @ T @ s.T_axis_moving
        standing, moving = fast_solid_of(s.standing), fast_solid_of(s.moving)
        first, second = (self._outside(k) for k in (0, 1))
        if standing.holds(apply(T_standing_moving, second)):
            return Apart.INSIDE
        is_around = moving.holds(apply(inverse(T_standing_moving), first))
        return Apart.AROUND if is_around else None

    def _outside(self, side: int) -> Array:
        """Places ``(n, 3)`` on a side outside the zones, in its own frame.

        One of each connected piece of the whole, and some all over what is left: a zone may part
        one piece in two.
        """
        rest, s = self.rest[side], self.sides
        assert rest is not None  # noqa: S101 - asked for where both are left
        mesh, T = ((s.standing, s.T_axis_standing), (s.moving, s.T_axis_moving))[side]
        pieces = apply(T, fast_solid_of(mesh).witnesses)
        for zone in self.zones:
            inside, _ = zone.sort(np.repeat(pieces[:, None], 3, axis=1))
            pieces = pieces[~inside]
        spread = np.linspace(0, len(rest.faces) - 1, _PLACES).astype(np.int64)
        places = np.concatenate([pieces, rest.vertices[rest.faces[spread, 0]]])
        return apply(inverse(T), places)

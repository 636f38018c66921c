"""``Arm``: the interface to everything an arm can be asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.arm_rules import require_sound
from pathsim.arm.dh import chain_from_rows
from pathsim.arm.dimensions import Dimensions, chain_from_dimensions
from pathsim.arm.forward import axis_frames, jacobian, joint_batch, last_frames
from pathsim.arm.readings import ReadingsMap
from pathsim.errors import ArmError
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, BoolArray, frozen, require_poses


@dataclass(frozen=True, eq=False)
class Arm(FieldsOnly):
    """A chain of turning and sliding joints with limits. All arrays read-only; m, rad, s.

    ``fixed`` and ``ends``: see ``pathsim.arm.dh``. ``prismatic (dof,)``: which joints slide;
    their values are in m. ``lower`` and ``upper`` ``(dof,)`` are position limits;
    ``-inf``/``inf`` stand for a joint without limits. ``speed``, ``acceleration`` and ``jerk``
    ``(dof,)`` are the largest allowed values, ``inf`` when not known. ``readings``: from what
    the display shows to these joints. ``held``: index of the joint that only moves evenly from
    taught value to taught value on straight moves, since the others alone reach every pose (a
    rail, or one of seven joints); None when there is none. ``shown_limits (dof, 2)``: limits of
    what the display counts, where they were given so. Those of a coupled joint are no range of
    its model value alone: ``lower`` and ``upper`` are then the widest, ``room`` tells.
    Raises ArmError when they make no arm.
    """

    fixed: Array
    ends: Array
    prismatic: BoolArray
    lower: Array
    upper: Array
    speed: Array
    acceleration: Array
    jerk: Array
    readings: ReadingsMap
    held: int | None
    name: str
    shown_limits: Array | None = None

    @classmethod
    def from_dh(
        cls,
        rows: Sequence[Sequence[float]],
        convention: str,
        *,
        limits: ArrayLike | None = None,
        speed: ArrayLike | None = None,
        acceleration: ArrayLike | None = None,
        jerk: ArrayLike | None = None,
        prismatic: Sequence[bool] | None = None,
        readings: ReadingsMap | None = None,
        held: int | None = None,
        name: str = "arm",
    ) -> Arm:
        """Build an arm from Denavit-Hartenberg rows ``(a, alpha, d[, theta0])`` in m and rad.

        ``convention`` is "standard" or "modified" and has no default, since the same
        numbers describe different arms in the two. ``limits`` is ``(dof, 2)`` in rad or m.
        ``prismatic`` says which joints slide along their axis, on top of the row's ``d``.
        Raises ArmError when a row or a limit cannot be used.
        """
        fixed, ends = chain_from_rows(rows, convention)
        return cls.from_chain(
            fixed, ends, limits=limits, speed=speed, acceleration=acceleration, jerk=jerk,
            prismatic=prismatic, readings=readings, held=held, name=name,
        )  # fmt: skip

    @classmethod
    def from_dimensions(
        cls,
        dimensions: Dimensions,
        *,
        limits: ArrayLike | None = None,
        speed: ArrayLike | None = None,
        acceleration: ArrayLike | None = None,
        jerk: ArrayLike | None = None,
        readings: ReadingsMap | None = None,
        name: str = "arm",
    ) -> Arm:
        """Build a six-axis arm from the lengths of its drawing (``Dimensions``), m.

        ``limits (6, 2)`` rad; the others ``(6,)`` in rad/s, rad/s2, rad/s3. Raises ArmError.
        """
        fixed, ends = chain_from_dimensions(dimensions)
        return cls.from_chain(
            fixed, ends, limits=limits, speed=speed, acceleration=acceleration, jerk=jerk,
            readings=readings, name=name,
        )  # fmt: skip

    @classmethod
    def from_chain(
        cls,
        fixed: ArrayLike,
        ends: ArrayLike,
        *,
        limits: ArrayLike | None = None,
        speed: ArrayLike | None = None,
        acceleration: ArrayLike | None = None,
        jerk: ArrayLike | None = None,
        prismatic: Sequence[bool] | None = None,
        readings: ReadingsMap | None = None,
        held: int | None = None,
        name: str = "arm",
    ) -> Arm:
        """Build an arm from ``fixed`` and ``ends`` ``(dof, 4, 4)``, whose axes are all z.

        A sliding first joint, or else joint 3 of seven, is held when ``held`` is not given.
        """
        fixed, ends = require_poses(fixed, "fixed"), require_poses(ends, "ends")
        dof = len(fixed)
        span = np.tile([-np.inf, np.inf], (dof, 1)) if limits is None else np.asarray(limits, float)
        if span.shape != (dof, 2):
            raise ArmError(f"limits must be ({dof}, 2) in rad or m, came {span.shape}")
        slides = np.zeros(dof, dtype=bool) if prismatic is None else np.array(prismatic, dtype=bool)
        if held is None and dof == 7 and slides.shape == (dof,):
            held = 0 if slides[0] else 2
        unknown = np.full(dof, np.inf)
        return cls(
            fixed,
            ends,
            slides,
            span[:, 0],
            span[:, 1],
            unknown if speed is None else np.asarray(speed, float),
            unknown if acceleration is None else np.asarray(acceleration, float),
            unknown if jerk is None else np.asarray(jerk, float),
            ReadingsMap.identity(dof) if readings is None else readings,
            held,
            name,
        )

    def __post_init__(self) -> None:
        require_sound(self)

    def __repr__(self) -> str:
        return f"Arm({self.name!r}, {self.dof} joints)"

    def on_rail(
        self,
        T_base_rail: ArrayLike,
        limits: tuple[float, float],
        speed: float,
        acceleration: float,
    ) -> Arm:
        """Return this arm on a rail: a sliding joint before its first, along z of the rail.

        ``T_base_rail (4, 4)``: the rail's frame in the arm's base at zero. The base frame of
        the new arm is where the old one's is with the rail at zero; its link 0 is the rail's
        bed, link 1 the slide with the old base on it. The rail is the held joint.
        """
        T = require_poses(T_base_rail)
        first = np.linalg.inv(T) @ self.fixed[0]
        return Arm.from_chain(
            np.concatenate([[T], [first], self.fixed[1:]]),
            np.concatenate([[np.linalg.inv(T)], self.ends]),
            limits=np.vstack([[limits], np.column_stack([self.lower, self.upper])]),
            speed=np.append([speed], self.speed),
            acceleration=np.append([acceleration], self.acceleration),
            jerk=np.append([np.inf], self.jerk),
            prismatic=[True, *self.prismatic],
            readings=self.readings.behind(1),
            held=0 if self.dof == 6 else None,
            name=self.name,
        )._with_limits_of(self, limits)

    def with_readings(self, readings: ReadingsMap) -> Arm:
        """Return the same arm with another display; limits given as shown go with it."""
        arm = replace(self, readings=readings)
        return arm if self.shown_limits is None else arm.with_shown_limits(self.shown_limits)

    def with_shown_limits(self, limits: ArrayLike) -> Arm:
        """Return the arm with limits ``(dof, 2)`` of what its display counts, rad or m."""
        shown = np.asarray(limits, float)
        mix, zero = self.readings.mix, self.readings.zero
        # The range of a sum is the sum of the ranges; zeros of the map keep endless ones out.
        ends = np.where(mix[..., None] == 0, 0.0, mix[..., None]) * np.where(
            mix[..., None] == 0, 0.0, shown[None]
        )
        low, high = ends.min(axis=-1).sum(axis=1) + zero, ends.max(axis=-1).sum(axis=1) + zero
        return replace(self, lower=frozen(low), upper=frozen(high), shown_limits=frozen(shown))

    def _with_limits_of(self, other: Arm, rail: tuple[float, float]) -> Arm:
        """Return this arm on a rail with the limits that another has without it."""
        if other.shown_limits is None:
            return self
        return self.with_shown_limits(np.vstack([[rail], other.shown_limits]))

    @property
    def dof(self) -> int:
        """Number of joints."""
        return len(self.fixed)

    @property
    def has_rail(self) -> bool:
        """Tell whether the first joint slides and carries the rest of the arm."""
        return bool(self.prismatic[0]) and self.held == 0

    def joint_name(self, index: int) -> str:
        """Name of the joint with this index: the rail is no number, the others count from 1."""
        if self.has_rail:
            return "the rail" if index == 0 else f"joint {index}"
        return f"joint {index + 1}"

    def axis_frames(self, q: ArrayLike) -> Array:
        """Frames ``(..., dof, 4, 4)`` of the joint axes (z) in the base, m; ``q`` rad, m."""
        qs, lead = joint_batch(q, self.dof)
        return axis_frames(self.fixed, qs, self.prismatic).reshape(*lead, self.dof, 4, 4)

    def link_poses(self, q: ArrayLike) -> Array:
        """``T_base_link`` ``(..., dof + 1, 4, 4)``, m: link 0 is the base, the last the flange.

        ``q (..., dof)`` rad or m; frames of the description.
        """
        qs, lead = joint_batch(q, self.dof)
        poses = np.empty((len(qs), self.dof + 1, 4, 4))
        poses[:, 0] = np.eye(4)
        poses[:, 1:] = axis_frames(self.fixed, qs, self.prismatic)
        for link in range(self.dof):
            if not np.array_equal(self.ends[link], np.eye(4)):
                poses[:, link + 1] = (poses[:, link + 1].reshape(-1, 4) @ self.ends[link]).reshape(
                    -1, 4, 4
                )
        return poses.reshape(*lead, self.dof + 1, 4, 4)

    def pose(self, q: ArrayLike) -> Array:
        """``T_base_flange`` ``(..., 4, 4)`` at joint values ``(..., dof)`` in rad or m."""
        qs, lead = joint_batch(q, self.dof)
        T = last_frames(self.fixed, qs, self.prismatic) @ self.ends[-1]
        return np.asarray(T.reshape(*lead, 4, 4))

    def jacobian(self, q: ArrayLike) -> Array:
        """Jacobian ``(..., 6, dof)`` of the flange in its base, linear rows first; m, rad."""
        qs, lead = joint_batch(q, self.dof)
        axes = axis_frames(self.fixed, qs, self.prismatic)
        tip = (axes[:, -1] @ self.ends[-1])[:, :3, 3]
        return jacobian(axes, tip, self.prismatic).reshape(*lead, 6, self.dof)

    def inverse(
        self,
        T: ArrayLike,
        *,
        held: float | None = None,
        T_flange_tcp: ArrayLike | None = None,
        near: ArrayLike | None = None,
    ) -> Array:
        """All joint vectors ``(k, dof)`` within limits that bring the flange to ``T (4, 4)``.

        Closed form, hence complete, for a spherical wrist behind two parallel axes, on a rail
        or not; a seeded numerical search otherwise, which may miss solutions. A joint with
        limits wider than a turn yields every turn inside its limits; a joint without limits
        one value in (-pi, pi]. ``k`` is 0 when the pose is out of reach.

        ``held``: value of the held joint (rad or m), the middle of its range when not given.
        An arm of five joints is asked for place and direction of the tool's z only, with
        ``T_flange_tcp`` (the flange itself when not given); fewer joints must meet the pose.
        ``near (dof,)``: joint values that a search starts from as well.
        """
        from pathsim.arm.inverse import solutions

        pose = require_poses(T)
        if pose.shape != (4, 4):
            raise ArmError(f"inverse takes one pose (4, 4), came {pose.shape}")
        tool = np.eye(4) if T_flange_tcp is None else require_poses(T_flange_tcp)
        start = None if near is None else np.asarray(near, float)
        return solutions(self, pose, self.middle if held is None else held, tool, start)

    @property
    def middle(self) -> Array:
        """The middle of all joint ranges ``(dof,)``, rad or m; zero for a joint without limits."""
        bounded = np.isfinite(self.lower) & np.isfinite(self.upper)
        low, high = np.where(bounded, self.lower, 0.0), np.where(bounded, self.upper, 0.0)
        return np.asarray((low + high) / 2)

    def within_limits(self, q: ArrayLike, tolerance: float = 1e-9) -> BoolArray:
        """Tell for joints ``(..., dof)`` (rad, m) which are inside their limits; same shape."""
        return np.asarray(self.room(q) >= -tolerance, dtype=bool)

    def room(self, q: ArrayLike) -> Array:
        """How far joints ``(..., dof)`` (rad, m) are inside their nearer limit; below 0 past it."""
        values = np.asarray(q, float)
        room = np.minimum(values - self.lower, self.upper - values)
        if self.shown_limits is None:
            return np.asarray(room)
        shown = self.readings.shown(values)
        low, high = self.shown_limits[:, 0], self.shown_limits[:, 1]
        return np.asarray(np.minimum(room, np.minimum(shown - low, high - shown)))

    def has_moving_limits(self, joint: int) -> bool:
        """Tell whether the limits of a joint depend on where another joint stands."""
        others = np.flatnonzero(self.readings.mix[joint])
        return self.shown_limits is not None and bool((others != joint).any())

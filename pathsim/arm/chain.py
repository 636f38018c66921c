"""``Arm``: the interface to everything an arm can be asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.dh import chain_from_rows
from pathsim.arm.forward import axis_frames, jacobian, joint_batch
from pathsim.errors import ArmError
from pathsim.transforms import Array, Flags, frozen, require_poses


@dataclass(frozen=True, eq=False)
class Arm:
    """A chain of revolute joints with limits. All arrays read-only; m, rad, s.

    ``fixed`` and ``ends``: see ``pathsim.arm.dh``. ``lower`` and ``upper`` ``(dof,)`` are
    position limits; ``-inf``/``inf`` stand for a joint without limits. ``speed`` and
    ``acceleration`` ``(dof,)`` are the largest allowed values, ``inf`` when not known.
    """

    fixed: Array
    ends: Array
    lower: Array
    upper: Array
    speed: Array
    acceleration: Array
    name: str = field(default="arm")

    @classmethod
    def from_dh(
        cls,
        rows: Sequence[Sequence[float]],
        convention: str,
        *,
        limits: ArrayLike | None = None,
        speed: ArrayLike | None = None,
        acceleration: ArrayLike | None = None,
        name: str = "arm",
    ) -> Arm:
        """Build an arm from Denavit-Hartenberg rows ``(a, alpha, d[, theta0])`` in m and rad.

        ``convention`` is "standard" or "modified" and has no default, since the same
        numbers describe different arms in the two. ``limits`` is ``(dof, 2)`` in rad.
        Raises ArmError when a row or a limit cannot be used.
        """
        fixed, ends = chain_from_rows(rows, convention)
        dof = len(fixed)
        span = np.tile([-np.inf, np.inf], (dof, 1)) if limits is None else np.asarray(limits, float)
        if span.shape != (dof, 2):
            raise ArmError(f"limits must be ({dof}, 2) in rad, came {span.shape}")
        for index, (low, high) in enumerate(span):
            if not low < high:
                raise ArmError(
                    f"joint {index + 1}: the lower limit {low} must be below the upper {high}"
                )
        return cls(
            frozen(fixed),
            frozen(ends),
            frozen(span[:, 0]),
            frozen(span[:, 1]),
            _largest(speed, dof, "speed"),
            _largest(acceleration, dof, "acceleration"),
            name,
        )

    @property
    def dof(self) -> int:
        """Number of joints."""
        return len(self.fixed)

    def axis_frames(self, q: ArrayLike) -> Array:
        """Frames ``(..., dof, 4, 4)`` of the joint axes (z) in the base, for ``(..., dof)``."""
        qs, lead = joint_batch(q, self.dof)
        return axis_frames(self.fixed, qs).reshape(*lead, self.dof, 4, 4)

    def link_poses(self, q: ArrayLike) -> Array:
        """``T_base_link`` ``(..., dof + 1, 4, 4)``: link 0 is the base, the last the flange.

        The frames are those of the Denavit-Hartenberg convention the arm was built with.
        """
        qs, lead = joint_batch(q, self.dof)
        poses = np.empty((len(qs), self.dof + 1, 4, 4))
        poses[:, 0] = np.eye(4)
        poses[:, 1:] = axis_frames(self.fixed, qs) @ self.ends
        return poses.reshape(*lead, self.dof + 1, 4, 4)

    def pose(self, q: ArrayLike) -> Array:
        """``T_base_flange`` ``(..., 4, 4)`` at joint values ``(..., dof)`` in rad."""
        qs, lead = joint_batch(q, self.dof)
        T = axis_frames(self.fixed, qs)[:, -1] @ self.ends[-1]
        return np.asarray(T.reshape(*lead, 4, 4))

    def jacobian(self, q: ArrayLike) -> Array:
        """Jacobian ``(..., 6, dof)`` of the flange in the base frame, linear rows first."""
        qs, lead = joint_batch(q, self.dof)
        axes = axis_frames(self.fixed, qs)
        tip = (axes[:, -1] @ self.ends[-1])[:, :3, 3]
        return jacobian(axes, tip).reshape(*lead, 6, self.dof)

    def inverse(self, T: ArrayLike) -> Array:
        """All joint vectors ``(k, dof)`` within limits that bring the flange to ``T (4, 4)``.

        Closed form, hence complete, for a spherical wrist behind two parallel axes; a
        seeded numerical search otherwise, which may miss solutions. A joint with limits
        wider than a turn yields every turn inside its limits; a joint without limits one
        value in (-pi, pi]. ``k`` is 0 when the pose is out of reach.
        """
        from pathsim.arm.inverse import solutions

        pose = require_poses(T)
        if pose.shape != (4, 4):
            raise ArmError(f"inverse takes one pose (4, 4), came {pose.shape}")
        return solutions(self, pose)

    def within_limits(self, q: ArrayLike, tolerance: float = 1e-9) -> Flags:
        """Tell for joints ``(..., dof)`` which are inside their limits; same shape, bool."""
        values = np.asarray(q, float)
        return np.asarray(
            (values >= self.lower - tolerance) & (values <= self.upper + tolerance), dtype=bool
        )


def _largest(values: ArrayLike | None, dof: int, what: str) -> Array:
    """Return a read-only ``(dof,)`` of positive numbers; inf when not given."""
    if values is None:
        return frozen(np.full(dof, np.inf))
    array = np.asarray(values, dtype=np.float64)
    if array.shape != (dof,):
        raise ArmError(f"{what} must be ({dof},), came {array.shape}")
    if not (array > 0).all():
        raise ArmError(f"{what} must be above zero for every joint, came {list(array)}")
    return frozen(array)

"""What makes a chain an arm: shapes that fit, limits that rise, sizes that can be meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.readings import ReadingsMap
from pathsim.errors import ArmError
from pathsim.transforms import Array, BoolArray, frozen, require_poses
from pathsim.units import MOST, quantity

if TYPE_CHECKING:
    from pathsim.arm.chain import Arm

#: Neighbouring axes nearer to one line than this (m, and sine of the angle) are one axis.
_SAME_LINE = 1e-9


def require_sound(arm: Arm) -> None:
    """Refuse what makes no arm; raises ArmError. Arrays are put back as read-only copies."""
    if not isinstance(arm.name, str) or not arm.name.strip():
        raise ArmError(f"an arm needs a name, came {arm.name!r}")
    fixed = frozen(require_poses(arm.fixed, "fixed"))
    ends = frozen(require_poses(arm.ends, "ends"))
    dof = len(fixed)
    if fixed.shape != (dof, 4, 4) or ends.shape != fixed.shape or dof == 0:
        raise ArmError(f"an arm needs (dof, 4, 4) twice, came {fixed.shape} and {ends.shape}")
    slides = np.array(arm.prismatic, dtype=bool)
    if slides.shape != (dof,):
        raise ArmError(f"prismatic must be ({dof},), came {slides.shape}")
    slides.setflags(write=False)
    lower, upper = _row(arm.lower, dof, "lower"), _row(arm.upper, dof, "upper")
    for index, (low, high) in enumerate(zip(lower.tolist(), upper.tolist(), strict=True)):
        if not low < high:
            raise ArmError(
                f"joint {index + 1}: the lower limit {low} must be below the upper {high}"
            )
    if not isinstance(arm.readings, ReadingsMap):
        raise ArmError(f"readings must be a ReadingsMap, came a {type(arm.readings).__name__}")
    if arm.readings.zero.shape != (dof,):
        raise ArmError(
            f"the readings map is for {len(arm.readings.zero)} joints, the arm has {dof}"
        )
    if arm.held is not None and not (0 <= arm.held < dof and dof > 6):
        raise ArmError(f"joint {arm.held + 1} cannot be the held one of {dof} joints")
    if arm.shown_limits is not None:
        limits = frozen(arm.shown_limits)
        if limits.shape != (dof, 2) or not (limits[:, 0] < limits[:, 1]).all():
            raise ArmError(f"shown limits must rise and be ({dof}, 2), came {limits.shape}")
        object.__setattr__(arm, "shown_limits", limits)
    _require_separate_axes(fixed, slides)
    values = {"fixed": fixed, "ends": ends, "prismatic": slides, "lower": lower, "upper": upper}
    for name in ("speed", "acceleration", "jerk"):
        values[name] = _largest(getattr(arm, name), slides, name)
    for name, value in values.items():
        object.__setattr__(arm, name, value)


def _row(values: ArrayLike, dof: int, what: str) -> Array:
    array = frozen(values)
    if array.shape != (dof,):
        raise ArmError(f"{what} must be ({dof},), came {array.shape}")
    return array


def _require_separate_axes(fixed: Array, prismatic: BoolArray) -> None:
    """Refuse neighbours that do the same thing: the arm would be singular in every posture."""
    for i in range(1, len(fixed)):
        z, p = fixed[i, :3, 2], fixed[i, :3, 3]
        across = float(np.hypot(z[0], z[1]))
        off = float(np.hypot(p[0], p[1]))
        if prismatic[i] != prismatic[i - 1] or across > _SAME_LINE:
            continue
        if prismatic[i] or off <= _SAME_LINE:
            what = "slide along one line" if prismatic[i] else "turn about one line"
            raise ArmError(f"joints {i} and {i + 1} {what}, so that one of them has no effect")


def _largest(values: ArrayLike, slides: BoolArray, what: str) -> Array:
    """Return a read-only ``(dof,)`` of positive numbers that can be meant; inf: not known."""
    array = _row(values, len(slides), what)
    if not (array > 0).all():
        raise ArmError(f"{what} must be above zero for every joint, came {array.tolist()}")
    for index, (size, is_slide) in enumerate(zip(array.tolist(), slides.tolist(), strict=True)):
        kind = what if is_slide else f"turning {what}"
        if size > MOST[kind] and np.isfinite(size):
            raise ArmError(
                f"joint {index + 1}: came a {what} of {quantity(size, kind)}; expected at most "
                f"{quantity(MOST[kind], kind)}; is the unit right?"
            )
    return array

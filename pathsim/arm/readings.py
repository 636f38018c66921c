"""From what the arm's display shows to the joints of the model, and back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pathsim.errors import ArmError
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, frozen, require_poses

IDENTITY = frozen(np.eye(4))


@dataclass(frozen=True, eq=False)
class ReadingsMap(FieldsOnly):
    """``q = mix @ shown + zero``, for displays that count otherwise than the model.

    ``mix (dof, dof)``: signs on the diagonal; off it the coupling of a joint to the reading of
    another (a display that shows joint 3 against the horizon has joint 3 follow joint 2).
    ``zero (dof,)``: model value where the display shows 0, rad or m. ``T_base_shown (4, 4)``:
    the frame of the displayed poses in the model's base.
    """

    mix: Array
    zero: Array
    T_base_shown: Array

    def __repr__(self) -> str:
        same = "as the model counts" if self.is_identity else "otherwise than the model"
        return f"ReadingsMap({len(self.zero)} joints, {same})"

    @classmethod
    def identity(cls, dof: int) -> ReadingsMap:
        """Return the map of a display that shows the model's own joints."""
        return cls(frozen(np.eye(dof)), frozen(np.zeros(dof)), IDENTITY)

    @classmethod
    def of(
        cls,
        signs: ArrayLike,
        zero: ArrayLike,
        couplings: ArrayLike = (),
        T_base_shown: ArrayLike = IDENTITY,
    ) -> ReadingsMap:
        """Build a map from signs ``(dof,)``, zeros ``(dof,)`` and couplings.

        ``couplings``: rows ``(joint, other, factor)`` with indices from 0: the joint gains
        ``factor`` times the reading of the other. Raises ArmError when it cannot be undone.
        """
        mix = np.diag(np.asarray(signs, float))
        for joint, other, factor in np.reshape(np.asarray(couplings, float), (-1, 3)):
            mix[int(joint), int(other)] += factor
        if not np.isfinite(mix).all() or not np.isfinite(np.asarray(zero, float)).all():
            raise ArmError("a readings map needs finite numbers")
        if abs(np.linalg.det(mix)) < 1e-9:
            raise ArmError("these couplings cannot be undone: two joints show the same thing")
        return cls(frozen(mix), frozen(zero), frozen(require_poses(T_base_shown)))

    @property
    def is_identity(self) -> bool:
        """Tell whether the display shows the model's own joints."""
        return bool(np.array_equal(self.mix, np.eye(len(self.zero))) and not self.zero.any())

    def model(self, shown: ArrayLike) -> Array:
        """Joints ``(..., dof)`` of the model for readings ``(..., dof)``, rad or m."""
        return np.asarray(np.asarray(shown, float) @ self.mix.T + self.zero)

    def shown(self, q: ArrayLike) -> Array:
        """Return readings ``(..., dof)`` for joints ``(..., dof)`` of the model, rad or m."""
        return np.asarray((np.asarray(q, float) - self.zero) @ np.linalg.inv(self.mix).T)

    def behind(self, count: int) -> ReadingsMap:
        """Return the map with ``count`` axes in front that the display shows as they are."""
        dof = len(self.zero) + count
        mix = np.eye(dof)
        mix[count:, count:] = self.mix
        zero = np.concatenate([np.zeros(count), self.zero])
        return ReadingsMap(frozen(mix), frozen(zero), self.T_base_shown)

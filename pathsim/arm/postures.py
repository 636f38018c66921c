"""The eight postures of a spherical-wrist arm in words, and how near each is to its border.

Words of our own, each true in the arm's own frame, however the arm is hung:

- **shoulder** ``ahead`` or ``behind``: on which side of axis 1 the centre of the wrist is; ahead
  is the side on which it is with all joints of the description at zero, turned with joint 1;
- **elbow** ``high`` or ``low``: on which side of the line from axis 2 to the wrist centre the
  elbow is; high is the side away from the arm's foot for an arm that reaches ahead. Of an arm
  that hangs upside down a high elbow is the one nearer to the floor;
- **joint 5** ``plus`` or ``minus``: whether it is turned the way its display counts up, or the
  other way, from where joints 4 and 6 line up.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.chain import Arm
from pathsim.arm.inverse import ClosedForm, closed_form
from pathsim.errors import ArmError
from pathsim.transforms import Array, rotation_about


class Shoulder(StrEnum):
    """On which side of axis 1 the centre of the wrist is."""

    AHEAD = "ahead"
    BEHIND = "behind"


class Elbow(StrEnum):
    """On which side of the line from axis 2 to the centre of the wrist the elbow is."""

    HIGH = "high"
    LOW = "low"


class Wrist(StrEnum):
    """Which way joint 5 is turned from where joints 4 and 6 line up."""

    PLUS = "plus"
    MINUS = "minus"


#: What a person may ask for, one of each at most; said in messages.
WORDS = "ahead or behind, high or low, plus or minus"
#: Words of older points files, and what stands for them now: nothing changes in silence.
_NOW = {
    "front": Shoulder.AHEAD,
    "back": Shoulder.BEHIND,
    "up": Elbow.HIGH,
    "down": Elbow.LOW,
}


@dataclass(frozen=True)
class Posture:
    """How an arm stands, whole or in part; None where nothing is said."""

    shoulder: Shoulder | None = None
    elbow: Elbow | None = None
    wrist: Wrist | None = None

    @property
    def said(self) -> tuple[Shoulder | Elbow | Wrist, ...]:
        """Return what is said, shoulder first."""
        parts = (self.shoulder, self.elbow, self.wrist)
        return tuple(part for part in parts if part is not None)

    def __bool__(self) -> bool:
        """Tell whether anything is said."""
        return bool(self.said)

    def __str__(self) -> str:
        """Return the words as in a points file: ``ahead high plus``."""
        return " ".join(self.said)

    def is_met_by(self, other: Posture) -> bool:
        """Tell whether another posture has all that is said here."""
        return (
            self.shoulder in (None, other.shoulder)
            and self.elbow in (None, other.elbow)
            and self.wrist in (None, other.wrist)
        )


#: What a point says that leaves the posture open.
ANY_POSTURE = Posture()


@dataclass(frozen=True, eq=False)
class PostureMeasures:
    """Distances from the three singularities of a spherical-wrist arm; signs tell the posture.

    ``shoulder (...)`` m: wrist centre from axis 1, seen across the arm's plane; ahead positive.
    ``elbow (...)`` rad: angle of the elbow from stretched or folded; high positive, at most pi/2
    in size. ``wrist (...)`` rad: angle of joint 5 from alignment, at most pi/2 in size, positive
    as the model counts.
    """

    shoulder: Array
    elbow: Array
    wrist: Array


def measures(arm: Arm, q: ArrayLike) -> PostureMeasures:
    """Measure postures ``q (..., dof)``; ArmError when the arm has no spherical wrist."""
    solver = _solver(arm)
    g, joints = solver.geometry, np.asarray(q, float)[..., solver.first :]
    h = g.axes
    R2, R3 = rotation_about(h[1], joints[..., 1]), rotation_about(h[2], joints[..., 2])
    upper = R2 @ g.upper_arm
    fore = np.einsum("...ij,...jk,k->...i", R2, R3, g.forearm)
    up, ahead = up_and_ahead(solver)
    centre = g.to_shoulder + upper + fore
    # Axis 1 stands aside of the arm's plane by a fixed amount; only the way ahead changes sign.
    shoulder = centre @ ahead
    lying = np.cross(upper, fore) @ h[1]  # 0 when stretched or folded
    facing = (upper * fore).sum(axis=-1) - (upper @ h[1]) * (fore @ h[1])
    # A forearm that falls ahead from the upper arm has the elbow above the line.
    ahead_sign = np.sign(np.cross(up, ahead) @ h[1])
    elbow = np.arctan2(lying * ahead_sign, np.abs(facing))
    R5 = rotation_about(h[4], joints[..., 4])
    sixth = R5 @ h[5]
    across = np.cross(h[3], sixth)
    size = np.linalg.norm(across, axis=-1)
    angle = np.arctan2(size, np.abs(sixth @ h[3]))
    wrist = np.where(across @ h[4] >= 0, angle, -angle)
    return PostureMeasures(np.asarray(shoulder), np.asarray(elbow), np.asarray(wrist))


def up_and_ahead(solver: ClosedForm) -> tuple[Array, Array]:
    """Return unit vectors away from the arm's foot and ahead, in the arm's plane at zero.

    Up is along axis 1, to the side of the base's z: an axis 1 that points into the foot, as some
    descriptions have it, does not turn high into low. Both are seen from the slide of a rail.
    """
    g = solver.geometry
    h = g.axes
    z = solver.arm.fixed[0][2, :3] if solver.first else np.array([0.0, 0.0, 1.0])
    axis = -h[0] if h[0] @ z < -1e-9 else h[0]
    up = axis - (axis @ h[1]) * h[1]
    up /= np.linalg.norm(up)
    along = np.cross(h[1], up)
    reach = (g.to_shoulder + g.upper_arm + g.forearm) @ along
    return up, (-along if reach < -1e-9 else along)


def postures_of(arm: Arm, q: ArrayLike) -> list[Posture]:
    """How the arm stands at each of ``q (n, dof)``; ArmError without a spherical wrist."""
    found = measures(arm, q)
    # What is read off is the display: a joint 5 that it counts the other way is plus there.
    fifth = arm.dof - 2
    counted = np.sign(np.linalg.inv(arm.readings.mix)[fifth, fifth]) or 1.0
    return [
        Posture(
            Shoulder.AHEAD if shoulder >= 0 else Shoulder.BEHIND,
            Elbow.HIGH if elbow >= 0 else Elbow.LOW,
            Wrist.PLUS if wrist * counted >= 0 else Wrist.MINUS,
        )
        for shoulder, elbow, wrist in zip(found.shoulder, found.elbow, found.wrist, strict=True)
    ]


def posture_of(arm: Arm, q: ArrayLike) -> Posture:
    """How the arm stands at ``q (dof,)``, all three parts said."""
    return postures_of(arm, np.asarray(q, float)[None])[0]


def has_postures(arm: Arm) -> bool:
    """Tell whether this arm's postures can be said in words."""
    return closed_form(arm) is not None


def read_posture(text: str) -> Posture:
    """Read ``"ahead high plus"`` in any order, some of them or all; ArmError on anything else."""
    said: dict[type[StrEnum], StrEnum] = {}
    for typed in text.replace(",", " ").split():
        word = typed.casefold()
        if word in _NOW:
            raise ArmError(f"'{typed}' is now '{_NOW[word]}'; use {WORDS}")
        part = next((p for p in (Shoulder, Elbow, Wrist) if word in list(p)), None)
        if part is None:
            raise ArmError(f"'{typed}' is no posture word; use {WORDS}")
        if part in said:
            raise ArmError(f"'{typed}' and '{said[part]}' say the same thing twice; use {WORDS}")
        said[part] = part(word)
    shoulder, elbow, wrist = (said.get(part) for part in (Shoulder, Elbow, Wrist))
    return Posture(
        None if shoulder is None else Shoulder(shoulder),
        None if elbow is None else Elbow(elbow),
        None if wrist is None else Wrist(wrist),
    )


def matching(arm: Arm, found: Array, wanted: Posture) -> Array:
    """Those of ``found (k, dof)`` whose posture has all that is ``wanted``."""
    keep = [wanted.is_met_by(posture) for posture in postures_of(arm, found)]
    return np.asarray(found[np.array(keep, dtype=bool)])


def _solver(arm: Arm) -> ClosedForm:
    solver = closed_form(arm)
    if solver is None:
        raise ArmError("the postures of an arm without a spherical wrist have no names")
    return solver

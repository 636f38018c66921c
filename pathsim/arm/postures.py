"""The eight branches of a spherical-wrist arm in words, and how near each is to its border.

Words (plain ones of our own; the textbooks speak of shoulder, elbow and wrist too):

- **shoulder** ``front`` or ``back``: on which side of axis 1 the centre of the wrist is,
  looking along the upper arm's plane; front is where it is with all joints at zero;
- **elbow** ``up`` or ``down``: on which side of the line from axis 2 to the wrist centre the
  elbow is; up is above the line for an arm that reaches forward;
- **wrist** ``plus`` or ``minus``: whether joint 5 is turned in its positive or its negative
  direction from where joints 4 and 6 line up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.chain import Arm
from pathsim.arm.inverse import ClosedForm, closed_form
from pathsim.arm.wrist_inverse import WristGeometry
from pathsim.errors import ArmError
from pathsim.transforms import Array, rotation_about

WORDS = (("front", "back"), ("up", "down"), ("plus", "minus"))
PARTS = ("shoulder", "elbow", "wrist")


@dataclass(frozen=True, eq=False)
class PostureMeasures:
    """Distances from the three singularities of a spherical-wrist arm; signs tell the branch.

    ``shoulder (...)`` m: wrist centre from axis 1, seen across the arm's plane; front positive.
    ``elbow (...)`` rad: angle of the elbow from stretched or folded; up positive, at most pi/2
    in size. ``wrist (...)`` rad: angle of joint 5 from alignment, at most pi/2 in size.
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
    up = h[0] - (h[0] @ h[1]) * h[1]
    up /= np.linalg.norm(up)
    ahead = _ahead(g, np.cross(h[1], up))
    centre = g.to_shoulder + upper + fore
    # Axis 1 stands aside of the arm's plane by a fixed amount; only the way ahead changes sign.
    shoulder = centre @ ahead
    lying = np.cross(upper, fore) @ h[1]  # 0 when stretched or folded
    facing = (upper * fore).sum(axis=-1) - (upper @ h[1]) * (fore @ h[1])
    # A forearm that falls forward from the upper arm has the elbow above the line.
    ahead_sign = np.sign(np.cross(up, ahead) @ h[1])
    elbow = np.arctan2(lying * ahead_sign, np.abs(facing))
    R5 = rotation_about(h[4], joints[..., 4])
    sixth = R5 @ h[5]
    across = np.cross(h[3], sixth)
    size = np.linalg.norm(across, axis=-1)
    angle = np.arctan2(size, np.abs(sixth @ h[3]))
    wrist = np.where(across @ h[4] >= 0, angle, -angle)
    return PostureMeasures(np.asarray(shoulder), np.asarray(elbow), np.asarray(wrist))


def _ahead(g: WristGeometry, along: Array) -> Array:
    """Return ``along`` or its opposite: ahead is where the wrist is with all joints at zero."""
    reach = (g.to_shoulder + g.upper_arm + g.forearm) @ along
    return -along if reach < -1e-9 else along


def words(arm: Arm, q: ArrayLike) -> tuple[str, str, str]:
    """Branch of one posture ``q (dof,)`` in words, for example ``("front", "up", "plus")``."""
    m = measures(arm, q)
    signs = (float(m.shoulder) >= 0, float(m.elbow) >= 0, float(m.wrist) >= 0)
    shoulder, elbow, wrist = (pair[0 if s else 1] for pair, s in zip(WORDS, signs, strict=True))
    return shoulder, elbow, wrist


def has_words(arm: Arm) -> bool:
    """Tell whether this arm's branches can be said in words."""
    return closed_form(arm) is not None


def read_words(text: str) -> tuple[str, ...]:
    """Read ``"front up plus"`` in any order, some of them or all; ArmError on anything else."""
    said: dict[str, str] = {}
    for word in text.replace(",", " ").split():
        part = next(
            (p for p, pair in zip(PARTS, WORDS, strict=True) if word.casefold() in pair), None
        )
        if part is None or part in said:
            why = "is no branch word" if part is None else f"says the {part} twice"
            raise ArmError(f"'{word}' {why}; use front or back, up or down, plus or minus")
        said[part] = word.casefold()
    return tuple(said[part] for part in PARTS if part in said)


def matching(arm: Arm, found: Array, wanted: tuple[str, ...]) -> Array:
    """Those of ``found (k, dof)`` whose branch has all the ``wanted`` words."""
    keep = [set(wanted) <= set(words(arm, row)) for row in found]
    return np.asarray(found[np.array(keep, dtype=bool)])


def _solver(arm: Arm) -> ClosedForm:
    solver = closed_form(arm)
    if solver is None:
        raise ArmError("the branches of an arm without a spherical wrist have no names")
    return solver

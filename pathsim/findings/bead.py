"""What a bead of some area makes of a joint: legs and throat of a fillet, and a groove's filling.

Plane geometry over the area that the wire gives; penetration, gaps and spatter are left out, so a
leg is one "at most". With A the area and t the angle between the two faces, of a flat fillet with
equal legs z: A = z^2 sin(t) / 2 and the throat is z cos(t / 2); for t = 90 deg z = sqrt(2 A).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pathsim.findings.torch_angles import SeamAngles
from pathsim.findings.weld_section import Joint
from pathsim.units import degrees, millimetres, percent

#: A face so convex, as a share of its width, is told beside the flat one.
CONVEXITY = 0.10
#: Legs at this ratio are told beside equal ones.
UNEQUAL = 1.5
#: Faces that stand at less or more than this to each other make no fillet, rad.
_SQUARE = math.radians(2.5)
_NARROWEST, _WIDEST = math.radians(30.0), math.radians(160.0)


@dataclass(frozen=True)
class Fillet:
    """A fillet of one area, m: flat with equal legs, and what becomes of its legs otherwise.

    ``leg`` and ``throat``: flat, equal legs. ``convex_leg``: equal legs under a face that is convex
    by ``CONVEXITY`` of its width. ``short_leg``, ``long_leg``: flat, at 1 to ``UNEQUAL``.
    """

    leg: float
    throat: float
    convex_leg: float
    short_leg: float
    long_leg: float


def fillet_of(area: float, between: float) -> Fillet | None:
    """Return the fillet that ``area`` m^2 makes between two faces ``between`` rad apart.

    None where the faces are too nearly closed or level for one. The convex face is taken as a
    parabola over its width w, which adds 2/3 w times its rise.
    """
    if not _NARROWEST <= between <= _WIDEST:
        return None
    triangle, width = math.sin(between) / 2, 2 * math.sin(between / 2)
    leg = math.sqrt(area / triangle)
    convex = math.sqrt(area / (triangle + 2 / 3 * CONVEXITY * width**2))
    short = math.sqrt(area / (triangle * UNEQUAL))
    return Fillet(leg, leg * math.cos(between / 2), convex, short, UNEQUAL * short)


def bead_in_words(area: float, angles: SeamAngles | None) -> tuple[str, dict[str, float]]:
    """Say what a bead of ``area`` m^2 makes of a seam's joint, and the numbers of it, SI.

    Where no face was found it is taken as a fillet between faces square to each other.
    """
    joint = None if angles is None else angles.joint
    if angles is not None and joint is Joint.LEVEL:
        if angles.groove is None:
            return "", {}
        text = f", which fills {percent(area / angles.groove)} of the groove's "
        return text + f"{angles.groove * 1e6:.1f} mm2", {"groove": angles.groove}
    if joint is Joint.FACE:
        return "", {}
    between = math.pi / 2
    if angles is not None and angles.between is not None:
        between = angles.between
    fillet = fillet_of(area, between)
    if fillet is None:
        return "", {}
    is_square = abs(between - math.pi / 2) < _SQUARE
    where = "" if is_square else f" between faces {degrees(between, 0)} apart"
    text = (
        f": a flat fillet{where} of equal legs {millimetres(fillet.leg)} at most, throat "
        f"{millimetres(fillet.throat)} ({millimetres(fillet.convex_leg)} under a face "
        f"{percent(CONVEXITY)} convex; legs {millimetres(fillet.short_leg)} and "
        f"{millimetres(fillet.long_leg)} at 1 to {UNEQUAL:g})"
    )
    return text, {
        "leg": fillet.leg,
        "throat": fillet.throat,
        "convex leg": fillet.convex_leg,
        "short leg": fillet.short_leg,
        "long leg": fillet.long_leg,
    }

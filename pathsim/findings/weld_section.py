"""The parts cut square to a seam at one place: the faces that are welded, and what joint it is.

Everything is in the plane square to the weld: two numbers a point, left of the seam (looking along
the travel with the torch upright) and along the torch's axis as it shows in that plane, away from
the metal; the wire's end is at zero.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from pathsim.findings.groove import groove_area
from pathsim.findings.weld_cut import Cut, cuts_along, lengths
from pathsim.model import Body
from pathsim.transforms import Array, BoolArray

#: The two faces of a joint are looked for this near to the wire's end, m.
_NEAR = 12e-3
#: Faces farther off count this much less, m.
_FADES = 3e-3
#: Least cosine of a face that the torch looks on, and of one that it passes along.
_LOOKED_ON, _PASSED = 0.05, -0.17
#: Normals within this are one face's; two faces of a joint stand at more than this, as cosines.
_ONE_FACE, _TWO_FACES = np.cos(np.radians(10.0)), np.cos(np.radians(20.0))
#: Surfaces level within this are level, m: what rises higher between two plates makes a fillet.
_LEVEL = 0.5e-3
#: A plate that goes on so far behind the other one's face goes through, m.
_THROUGH = 3e-3
#: Faces are equally near within this, m.
_TIE = 1e-6
#: A torch turned less than this out of the seam points along it, as a sine.
_ALONG = 1e-3


class Joint(StrEnum):
    """What the parts are to each other where a seam is cut across."""

    CORNER = "two faces"
    LEVEL = "level plates"
    FACE = "one face"


@dataclass(frozen=True, eq=False)
class Section:
    """What the torch welds on at one place: normals ``(2,)`` in the plane square to the weld.

    ``square_to``: the line that the work angle is counted from: of two faces the normal of the
    one that goes through under the other (the non-butting member), of level plates theirs.
    ``other``: of two faces the normal of the second one, else None. ``body``: the one that
    ``square_to`` is of. ``goes_through``: it was seen to go on behind the other one's face; where
    neither or both do, the flatter one was taken. ``faces``: normals of the nearest faces that the
    torch looks on, at most two: of a groove its two sides. ``groove``: the
    area between level plates below their surface, m^2, where there is one.
    """

    joint: Joint
    square_to: Array
    body: str
    other: Array | None = None
    other_body: str = ""
    goes_through: bool = False
    faces: tuple[Array, ...] = ()
    groove: float | None = None

    @property
    def out(self) -> Array:
        """The line from the weld's root out of the middle of its face ``(2,)``, unit."""
        if self.other is None:
            return self.square_to
        both = self.square_to + self.other
        return np.asarray(both / max(float(np.linalg.norm(both)), 1e-9))


def section_at(
    parts: Sequence[Body], T_part_tcp: Array, travel: Array, up: Array
) -> Section | None:
    """As ``sections_along`` for one place alone."""
    return sections_along(parts, T_part_tcp[None], travel[None], up[None])[0]


def sections_along(
    parts: Sequence[Body], T_part_tcp: Array, travel: Array, up: Array
) -> list[Section | None]:
    """Return what a torch at ``T_part_tcp (n, 4, 4)`` welds on.

    ``travel (n, 3)``: unit, on the part; ``up (n, 3)``: the world's, as it shows on the part. None
    where no face is near that the torch looks on, or where it points along the seam.
    """
    e = -T_part_tcp[:, :3, 2]
    across = e - (e * travel).sum(axis=1)[:, None] * travel
    size = np.linalg.norm(across, axis=1)
    torch = across / np.maximum(size, _ALONG)[:, None]
    planes = np.stack([np.cross(torch, travel), torch], axis=1)
    up = (planes @ up[:, :, None])[:, :, 0]
    names = [body.name for body in parts]
    told_of = np.flatnonzero(size >= _ALONG)
    found: list[Section | None] = [None] * len(size)
    cuts = cuts_along(parts, T_part_tcp[told_of, :3, 3], travel[told_of], planes[told_of])
    for k, cut in zip(told_of.tolist(), cuts, strict=True):
        found[k] = told(cut, names, up[k])
    return found


def _middle(values: Array) -> Array:
    """Return the mean ``(n,)`` of ``values (n, 2)``."""
    return np.asarray((values[:, 0] + values[:, 1]) / 2)


def told(cut: Cut, names: list[str], up: Array) -> Section | None:
    """Tell what joint a cut shows; ``up (2,)``: the world's, in the plane."""
    looked_on = cut.some(cut.normals[:, 1] > _LOOKED_ON)
    passed = cut.some(cut.normals[:, 1] > _PASSED)
    level = _level_plates(cut, looked_on)
    if level is not None:
        normal, number, opening, top = level
        sides = _groove(passed, normal, opening)
        area = groove_area(cut.ends, cut.normals, normal, top)
        return Section(Joint.LEVEL, normal, names[number], faces=sides, groove=area)
    faces = _near_faces(passed)
    if not faces:
        return None
    normals = tuple(n for n, _ in faces)
    if len(faces) == 1:
        return Section(Joint.FACE, normals[0], names[faces[0][1]], faces=normals)
    through = [_goes_through(cut, n, m) for n, m in (normals, normals[::-1])]
    if through[0] == through[1]:
        first = 0 if abs(normals[0] @ up) >= abs(normals[1] @ up) else 1
    else:
        first = 0 if through[0] else 1
    (square_to, body), (other, other_body) = faces[first], faces[1 - first]
    return Section(
        Joint.CORNER,
        square_to,
        names[body],
        other,
        names[other_body],
        through[0] != through[1],
        normals,
    )


def _near_faces(passed: Cut) -> list[tuple[Array, int]]:
    """Return normal and body of the nearest face, and of the nearest at an angle to it.

    The first one is looked on; the second may also be a wall that the torch goes along, as the
    edge of a lapped plate is, where it rises over the first.
    """
    near = passed.some(passed.away < _NEAR)
    is_left = near.normals[:, 1] > _LOOKED_ON
    if not is_left.any():
        return []
    normal, first = _nearest_face(near, is_left)
    ends = near.ends @ normal
    rises = np.maximum(ends[:, 0], ends[:, 1]) > (near.ends[first] @ normal).mean() + _LEVEL
    is_left = (near.normals @ normal <= _TWO_FACES) & (is_left | rises)
    found = [(normal, int(near.bodies[first]))]
    if is_left.any():
        normal, second = _nearest_face(near, is_left)
        found.append((normal, int(near.bodies[second])))
    return found


def _nearest_face(near: Cut, among: BoolArray) -> tuple[Array, int]:
    """Return the normal of the nearest face, and the number of its longest nearest piece."""
    away = near.away
    nearest = np.flatnonzero(among & (away <= away[among].min() + _TIE))
    length = lengths(near.ends[nearest, 1] - near.ends[nearest, 0])
    first = int(nearest[length.argmax()])
    same = among & (near.normals @ near.normals[first] > _TWO_FACES)
    weight = np.exp(-away[same] / _FADES)
    normal = (weight[:, None] * near.normals[same]).sum(axis=0)
    return normal / np.linalg.norm(normal), first


def _groove(passed: Cut, normal: Array, opening: tuple[float, float]) -> tuple[Array, ...]:
    """Return the normals of a groove's two sides, the left one first; none of a square opening."""
    along = (passed.ends @ np.array([normal[1], -normal[0]])).mean(axis=1)
    is_side = (along > opening[0]) & (along < opening[1]) & (passed.normals @ normal < _ONE_FACE)
    sides = []
    for facing in (passed.normals[:, 0] < 0, passed.normals[:, 0] > 0):
        here = np.flatnonzero(is_side & facing)
        if not len(here):
            return ()
        length = np.linalg.norm(passed.ends[here, 1] - passed.ends[here, 0], axis=1)
        sides.append(passed.normals[here[length.argmax()]])
    return tuple(sides) if max(n @ normal for n in sides) > _LOOKED_ON else ()


def _level_plates(cut: Cut, looked_on: Cut) -> tuple[Array, int, tuple[float, float], float] | None:
    """Return normal and body of plates that lie level on both sides, with nothing between them.

    And from where to where the opening between them is, with what is near beside it, and how high
    their surface is along the normal, m. A square butt, a groove, a bead on a plate. What rises
    between them makes a fillet of it.
    """
    is_one, chosen = [], []
    left = np.argsort(looked_on.away)
    while len(left):
        chosen.append(int(left[0]))
        is_one.append(looked_on.normals @ looked_on.normals[left[0]] > _ONE_FACE)
        left = left[1:][~is_one[-1][left[1:]]]
    if not chosen:
        return None
    # All of them at once: most go on before the wire's end alone, or behind it alone.
    normals, ends = looked_on.normals[chosen], looked_on.ends
    sides = np.stack([normals[:, 1], -normals[:, 0]])
    first, second = ends[:, 0] @ sides, ends[:, 1] @ sides
    low, high = np.minimum(first, second).T, np.maximum(first, second).T
    is_before, is_behind = is_one & (low < -_LEVEL), is_one & (high > _LEVEL)
    for k in np.flatnonzero(is_before.any(axis=1) & is_behind.any(axis=1)).tolist():
        m = normals[k]
        # of each side what begins nearest to the wire's end
        before = _nearest_of(np.maximum(-high[k], 0.0), is_before[k])
        behind = _nearest_of(np.maximum(low[k], 0.0), is_behind[k])
        height = [float((ends[n] @ m).mean()) for n in (before, behind)]
        if abs(height[0] - height[1]) > _LEVEL:
            continue
        top = min(height) + _LEVEL
        opening = (min(high[k, before], 0.0) - _NEAR, max(low[k, behind], 0.0) + _NEAR)
        across, up = cut.ends @ sides[:, k], cut.ends @ m
        is_there = (np.maximum(*across.T) > opening[0]) & (np.minimum(*across.T) < opening[1])
        if (up[is_there] > top).any():
            continue
        return m, int(looked_on.bodies[before]), opening, top - _LEVEL
    return None


def _nearest_of(away: Array, which: Array) -> int:
    """Return the number of the least of ``away (n,)`` among ``which (n,)``."""
    return int(np.where(which, away, np.inf).argmin())


def _goes_through(cut: Cut, normal: Array, other: Array) -> bool:
    """Tell whether a face goes on behind the other one's."""
    ends = cut.ends @ normal
    height = _middle(ends)
    own = (cut.normals @ normal > _ONE_FACE) & (np.maximum(*np.abs(ends).T) < _NEAR)
    if not own.any():
        return False
    away = np.where(own, cut.away, np.inf)
    level = height[int(away.argmin())]
    own &= np.abs(height - level) < _LEVEL
    return bool((cut.ends[own] @ -other > _THROUGH).any())

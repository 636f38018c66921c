"""Work and travel angle of the torch along a seam, from the parts' own faces.

Definitions as in Modern Welding (2013, pp. 68 and 70, reporting AWS A3.0): the travel angle lies
between the electrode's axis and the line square to the weld axis, in the plane of both; the
work angle between a line square to the plate and the plane of weld axis and electrode axis, so it
is told in the plane square to the weld. Of two plates at an angle the line is square to the
non-butting member, of level plates (butt and groove) to their surface. Some books count the work
angle of a butt weld from the plate; the angle over each face is told beside it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.findings.centre_line import AlongSeam, along_seam
from pathsim.findings.spread import Spread
from pathsim.findings.weld_position import WeldPosition, weld_position
from pathsim.findings.weld_section import Joint, Section, sections_along
from pathsim.model import Cell, Role
from pathsim.motion import MoveTrack
from pathsim.transforms import Array

#: Way from look to look, m, and the fewest and most looks.
_EVERY, _FEWEST, _MOST = 5e-3, 9, 41
_UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class SeamAngles:
    """The torch's angles along one seam, rad.

    ``travel``: positive for drag, negative for push. ``position``: in the room.
    ``joint``: what the parts are to each other on most of it, None where no face was found; then
    the rest is None. ``work``: from the line square to the plate ``square_to``, towards the other
    face, or to the left over level plates. ``over``: of each of the two nearest faces, how steep
    the torch stands over it; ``goes_through``: the plate was seen to go on behind the other one,
    else it was taken as the flatter one. ``told_on``: share of the looks at which that joint was
    found. ``groove``: area between level plates in the middle of them, m^2.
    """

    travel: Spread
    position: WeldPosition | None = None
    joint: Joint | None = None
    work: Spread | None = None
    over: tuple[Spread, ...] = ()
    square_to: str = ""
    goes_through: bool = False
    told_on: float = 0.0
    groove: float | None = None

    @property
    def between(self) -> float | None:
        """Angle between the two faces of a corner in the middle of the seam, rad."""
        if self.joint is not Joint.CORNER:
            return None
        return sum(over.middle for over in self.over)


def travel_angles(e: Array, travel: Array) -> Array:
    """Travel angles ``(n,)``, rad: positive for drag, negative for push.

    ``e (n, 3)``: unit vectors from tip to torch body; ``travel (n, 3)``: unit, along the travel.
    """
    return np.asarray(np.arcsin(np.clip((e * travel).sum(axis=-1), -1, 1)))


def work_angle(square_to: Array, other: Array | None = None) -> float:
    """Work angle, rad, of a torch that stands along the second axis of the plane square to a weld.

    From the line ``square_to (2,)``, unit; positive towards the face with the normal ``other
    (2,)``, or without one towards the first axis, which is left of the travel.
    """
    turned = float(
        np.arctan2(square_to[0], square_to[1])
    )  # from the line to the torch, counter-clockwise
    if other is None:
        return -turned + 0.0
    towards = square_to[0] * other[1] - square_to[1] * other[0]
    return turned if towards > 0 else -turned + 0.0


def over_face(normal: Array) -> float:
    """How steep such a torch stands over a face with the unit ``normal (2,)``, rad."""
    return float(np.arcsin(np.clip(normal[1], -1, 1)))


def seam_angles(cell: Cell, track: MoveTrack) -> SeamAngles | None:
    """Return the torch's angles along a whole seam; None where its line could not be laid."""
    length = track.tip_length
    count = int(np.clip(length / _EVERY, _FEWEST, _MOST)) // 2 * 2 + 1
    places = along_seam(cell, track, count)
    if places is None:
        return None
    e = -places.T_part_tcp[:, :3, 2]
    travel = Spread.of(travel_angles(e, places.travel))
    parts = [body for body in cell.bodies if body.role is Role.PART]
    turns = places.T_part_tcp[:, :3, :3] @ np.swapaxes(places.T_world_tcp[:, :3, :3], -1, -2)
    found = sections_along(parts, places.T_part_tcp, places.travel, turns @ _UP) if parts else []
    there = [one for one in found if one is not None]
    position = _position(places, turns, found)
    if not there:
        return SeamAngles(travel, position)
    joint = Counter(one.joint for one in there).most_common(1)[0][0]
    return _told(travel, position, joint, [one for one in there if one.joint is joint], count)


def _position(places: AlongSeam, turns: Array, sections: Sequence[Section | None]) -> WeldPosition:
    """Return a seam's positions in the room: by its faces, or where there are none by the torch.

    ``turns (n, 3, 3)``: from the world to the part.
    """
    faces = []
    for k, travel in enumerate(places.travel):
        e = -places.T_part_tcp[k, :3, 2]
        torch = e - (e @ travel) * travel
        torch /= max(float(np.linalg.norm(torch)), 1e-9)
        section = sections[k] if sections else None
        out = np.array([0.0, 1.0]) if section is None else section.out
        faces.append(out[0] * np.cross(torch, travel) + out[1] * torch)
    to_world = np.swapaxes(turns, -1, -2)
    travel = (to_world @ places.travel[:, :, None])[:, :, 0]
    face = (to_world @ np.array(faces)[:, :, None])[:, :, 0]
    return weld_position(travel, face, by_torch=not any(sections))


def _told(
    travel: Spread, position: WeldPosition, joint: Joint, sections: list[Section], count: int
) -> SeamAngles:
    work = Spread.of(np.array([work_angle(one.square_to, one.other) for one in sections]))
    most = Counter(len(one.faces) for one in sections).most_common(1)[0][0]
    ordered = [_ordered(one) for one in sections if len(one.faces) == most]
    over = tuple(
        Spread.of(np.array([over_face(faces[k]) for faces in ordered])) for k in range(most)
    )
    names = Counter(one.body for one in sections)
    through = all(one.goes_through for one in sections)
    return SeamAngles(
        travel,
        position,
        joint,
        work,
        over,
        names.most_common(1)[0][0],
        through,
        len(sections) / count,
        sections[len(sections) // 2].groove,
    )


def _ordered(one: Section) -> tuple[Array, ...]:
    """Return the faces in an order that stays along a seam: the one counted from, or left first."""
    if one.other is not None:
        return (one.square_to, one.other)
    return tuple(sorted(one.faces, key=lambda n: float(n[0])))

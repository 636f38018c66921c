"""What passes leave standing: beads without a size, and such as come out larger than drawn."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.centre_line import along_seam
from pathsim.findings.finding import Evidence, Finding, Level, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.findings.weld_section import section_at
from pathsim.model import Cell, Role
from pathsim.model.beads import LaidBead, bead_area
from pathsim.model.multipass import Multipass
from pathsim.motion import MoveTrack
from pathsim.units import degrees, millimetres

#: Between faces at these angles a bead is drawn to hold what is laid, rad (``bead_section.py``).
_NARROWEST, _WIDEST = float(np.radians(40.0)), float(np.radians(110.0))
_SAME = float(np.radians(0.5))
#: A pass that takes so much longer than its speed says lays a larger bead.
_SLOWED = 1.02


def passes(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each bead that is no body, and one for each that is larger than drawn."""
    cell, tracks = evidence.cell, evidence.trajectory.tracks
    for bead in cell.beads:
        track = tracks[bead.laid_by]
        if bead.body is None:
            why, cure = _not_drawn(cell, track)
            text = (
                f"{upper_move_name(track)}: the {bead.name} {why}, so no later move was checked "
                f"against it. {cure}"
            )
            time = float(track.t[0])
            yield Finding(Level.WATCH, FindingKind.NOT_CHECKED, text, track.number, time)
        elif track.fault is None:
            yield from _slowed(bead, track)
            yield from _other_groove(cell, bead, track)


def _not_drawn(cell: Cell, track: MoveTrack) -> tuple[str, str]:
    """Say why a bead is no body, and what helps."""
    if bead_area(cell, track.move) is None:
        cure = "Give 'wire feed' under 'process', or the pass a 'leg' or 'height'."
        return "has no size", cure
    cure = (
        "Lay it on a part that keeps its place to the seam's points, with the torch not along "
        "the seam."
    )
    return "cannot be drawn", cure


def _slowed(bead: LaidBead, track: MoveTrack) -> Iterator[Finding]:
    """Tell that the arm is slower on a pass than its bead was drawn for."""
    weave = track.move.weave
    travelling = 1.0 if weave is None else weave.travelling / weave.period
    planned = track.tip_length / (track.move.speed * travelling)
    share = track.travel_seconds / planned if planned > 0 else 1.0
    if share > _SLOWED:
        text = (
            f"{upper_move_name(track)}: the arm takes {share:.2f} times as long as the speed says. "
            f"The {bead.name} comes out so much larger than drawn. Give the speed that it can keep."
        )
        numbers = {"share": share}
        time = float(track.t[0])
        yield Finding(Level.WATCH, FindingKind.NOT_CHECKED, text, track.number, time,
                      numbers=numbers)  # fmt: skip


def _other_groove(cell: Cell, bead: LaidBead, track: MoveTrack) -> Iterator[Finding]:
    """Tell of a pass between faces for which its bead is not drawn, in the middle of the pass."""
    between = _between_faces(cell, track)
    if between is None or _NARROWEST - _SAME <= between <= _WIDEST + _SAME:
        return
    low, high = degrees(_NARROWEST, 0), degrees(_WIDEST, 0)
    how = "higher" if between < _NARROWEST else "wider"
    text = (
        f"{upper_move_name(track)}: the faces stand at {degrees(between, 0)} to each other. The "
        f"{bead.name} is drawn for {low} to {high}, and may come out {how}. Give it a larger 'leg'."
    )
    middle = track.travel_start + track.travel_seconds / 2
    yield Finding(Level.WATCH, FindingKind.NOT_CHECKED, text, track.number, middle,
                  numbers={"between": between})  # fmt: skip


def _between_faces(cell: Cell, track: MoveTrack) -> float | None:
    """Angle between the two faces that a pass lies between, in its middle, rad; None without."""
    places = along_seam(cell, track, 3)
    if places is None:
        return None
    T, T_world = places.T_part_tcp[1], places.T_world_tcp[1]
    up = T[:3, :3] @ T_world[:3, :3].T @ np.array([0.0, 0.0, 1.0])
    parts = [body for body in cell.bodies if body.role is Role.PART]
    section = section_at(parts, T, places.travel[1], up) if parts else None
    if section is None or len(section.faces) < 2:
        return None
    one, other = section.faces
    return float(np.pi - np.arccos(np.clip(one @ other, -1, 1)))


def bead_note(cell: Cell, track: MoveTrack) -> list[str]:
    """Say of a pass how its bead is drawn, and from which move on it stands."""
    bead = next((one for one in cell.beads if one.laid_by == track.index), None)
    if bead is None:
        return []
    if bead.body is None:
        return [f"the {bead.name} {_not_drawn(cell, track)[0]} and is no body"]
    section = bead.body.section
    width = millimetres(2 * section.half_width)
    text = (
        f"the {bead.name} is drawn {width} wide and {millimetres(section.top)} high over the "
        f"wire's end, and stands from move {bead.stands_from} on"
    )
    return [text]


def area_so_far(cell: Cell, track: MoveTrack) -> float | None:
    """Return the area of a pass and of those of its line before it, m^2; None of the first one."""
    written = track.move.written
    if written is None or not isinstance(written.said, Multipass) or written.number < 2:
        return None
    first = track.index - written.at
    moves = cell.program.moves[first : track.index + 1]
    areas = [bead_area(cell, move) for move in moves if move.leaves is not None]
    known = [area for area in areas if area is not None]
    return sum(known) if len(known) == len(areas) else None

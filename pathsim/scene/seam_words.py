"""Where each seam lies on the parts, in words for a sheet and for the window."""

from __future__ import annotations

from pathsim.check import CheckResult
from pathsim.findings.kinds import FindingKind
from pathsim.findings.seam_place import SeamOnPart
from pathsim.units import millimetres

#: Nearer than this to the surface no side of it is said, m.
_ON_SURFACE = 0.05e-3
#: What describes contact that is wanted.
_WANTED = (FindingKind.SEARCH, FindingKind.STATION)


def seam_lines(result: CheckResult) -> tuple[str, ...]:
    """Return a line a seam: least and most off the part, and along the wire.

    Seams of which the same is to be said share a line.
    """
    moves: dict[str, list[str]] = {}
    for seam in result.seam_places:
        moves.setdefault(_whole(seam), []).append(str(seam.move))
    return tuple(
        f"Move{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}: {said}"
        for said, numbers in moves.items()
    )


def seam_lines_of(result: CheckResult, move: int | None) -> tuple[str, ...]:
    """Return the line of the seam that a move is; nothing for another move."""
    return tuple(f"Seam: {_whole(seam)}" for seam in result.seam_places if seam.move == move)


def short_seam_lines(result: CheckResult, most: int) -> tuple[str, ...]:
    """Return a short line a seam; of more than ``most`` the farthest off, and how many are left."""
    farthest = sorted(result.seam_places, key=_amount, reverse=True)
    chosen = sorted(farthest[:most], key=lambda seam: seam.move)
    lines = [f"Seam, move {seam.move}: {_off(seam)}" for seam in chosen]
    left = len(farthest) - len(chosen)
    if left:
        lines.append(f"{left} more seam{'s' if left > 1 else ''} on the sheet, none farther off")
    return tuple(lines)


def wanted_lines_of(result: CheckResult, move: int | None) -> tuple[str, ...]:
    """Return what is said of the search or the station that a move is; nothing for another move."""
    return tuple(one.text for one in result.seams if one.kind in _WANTED and one.move == move)


def short_wanted_lines(result: CheckResult) -> tuple[str, ...]:
    """Return a short line a search and a move at a station: how far it touches as drawn."""
    lines = []
    for one in result.seams:
        if one.kind == FindingKind.SEARCH:
            touch = one.numbers.get("touch")
            said = "meets nothing" if touch is None else f"touches after {millimetres(touch)}"
            taught = millimetres(one.numbers["taught"])
            lines.append(f"Search, move {one.move}: {said}, taught at {taught}")
        elif one.kind == FindingKind.STATION:
            touching = one.numbers.get("touching")
            said = "does not touch" if touching is None else f"touches over {millimetres(touching)}"
            lines.append(f"Station, move {one.move}: {said}")
    return tuple(lines)


def _amount(seam: SeamOnPart) -> float:
    return float("inf") if seam.worst is None else abs(seam.worst.distance)


def _whole(seam: SeamOnPart) -> str:
    said = f"{_off(seam)}. {_along_wire(seam)}"
    if not seam.is_whole:
        said += " Only as far as the move can be run."
    return said


def _off(seam: SeamOnPart) -> str:
    if seam.least is None or seam.most is None:
        return f"not known where it lies, as {seam.untold}"
    parts = dict.fromkeys((seam.least.part, seam.most.part))
    which = f"the {' and the '.join(parts)}"
    allowed = f"{millimetres(seam.allowance)} allowed"
    off = _from_to(_side(seam.least.distance), _side(seam.most.distance))
    return f"wire end {off} off {which} ({allowed})"


def _from_to(least: str, most: str) -> str:
    return least if least == most else f"{least} to {most}"


def _side(distance: float) -> str:
    """Say a signed distance: inside is said in a word, not by a sign alone."""
    if distance < -_ON_SURFACE:
        return f"{millimetres(-distance)} inside"
    return millimetres(abs(distance))


def _along_wire(seam: SeamOnPart) -> str:
    out = f"stick-out {millimetres(seam.stick_out)}."
    work = seam.to_work
    if work is None or work.least is None or work.most is None:
        return f"No part in line with the wire; {out}"
    ways = _from_to(millimetres(work.least), millimetres(work.most))
    said = f"Contact tip to work {ways}, {out}"
    lacking = [name for name, way in (("start", work.start), ("end", work.end)) if way is None]
    if lacking:
        said += f" No part in line with the wire at its {' and '.join(lacking)}."
    return said

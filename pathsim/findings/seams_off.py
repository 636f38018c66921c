"""Seams that do not lie on a part: the model is wrong, whatever clears in it."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kinds import FindingKind
from pathsim.findings.seam_place import NOWHERE, Place, SeamOnPart, Untold
from pathsim.units import millimetres, percent

#: Far off, a tenth of a millimetre says nothing, m.
_COARSE = 0.1


def seams_off(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each seam that is off the parts; one for the cell where all of them are.

    And one where no body is a part, so that nothing can be told.
    """
    places = evidence.seam_places
    if any(seam.untold is Untold.NO_PART for seam in places):
        yield _no_part(len(places))
        return
    off = [seam for seam in places if seam.is_off or seam.is_beside or seam.through is not None]
    if len(off) > 1 and len(off) == len(places):
        yield _all_off(off)
        return
    for seam in off:
        yield _one_off(evidence, seam)


def _no_part(seams: int) -> Finding:
    which = "the seam lies" if seams == 1 else f"the {seams} seams lie"
    text = (
        f"No body of the cell has the role 'part': whether {which} on anything was not checked, "
        "and the wire may touch nothing. Give what is welded 'role: part'."
    )
    return Finding(Level.WATCH, FindingKind.SEAM_OFF, text)


def _all_off(off: list[SeamOnPart]) -> Finding:
    each = "; ".join(f"move {seam.move}: {_how_far(seam)}" for seam in off)
    text = (
        f"None of the {len(off)} seams lies where a joint is: {each}. What they share comes first: "
        "arm base, joint signs and zeros, tool centre point, units, places of the parts?"
    )
    worst = max(off, key=_amount)
    level = min((_level(seam) for seam in off), key=lambda level: level.rank)
    return Finding(level, FindingKind.SEAM_OFF, text, numbers=_numbers(worst))


def _one_off(evidence: Evidence, seam: SeamOnPart) -> Finding:
    name = move_name(evidence.trajectory.tracks[seam.move - 1])
    if seam.through is not None:
        place = seam.through
        text = (
            f"Seam of {name}: {_how_far(seam)}. It lies on the far side of the {place.part}: "
            "weld points, torch angle, or the part's place?"
        )
        numbers = {"through": place.distance}
        kind = FindingKind.SEAM_OFF
        return Finding(Level.STOP, kind, text, seam.move, place.time, body=place.part,
                       numbers=numbers)  # fmt: skip
    text = (
        f"Seam of {name}: {_how_far(seam)}, where {millimetres(seam.allowance)} is allowed. "
        f"{_cure(seam)}"
    )
    place = _worst(seam)
    return Finding(
        _level(seam),
        FindingKind.SEAM_OFF,
        text,
        seam.move,
        place.time,
        body=place.part,
        numbers=_numbers(seam),
    )


def _level(seam: SeamOnPart) -> Level:
    is_grave = seam.is_nowhere or seam.is_deep or seam.through is not None
    return Level.STOP if is_grave else Level.WATCH


def _worst(seam: SeamOnPart) -> Place:
    """Return the place that the finding is about: what is deep inside before what is far off."""
    assert seam.least is not None and seam.most is not None  # noqa: S101 - it is off
    if seam.through is not None:
        return seam.through
    if not seam.is_off:
        assert seam.beside is not None  # noqa: S101 - then it is beside its joint
        return seam.beside
    if seam.is_deep and not seam.is_nowhere:
        return seam.least
    return max(seam.least, seam.most, key=lambda place: abs(place.distance))


def _amount(seam: SeamOnPart) -> float:
    return abs(_worst(seam).distance)


def _how_far(seam: SeamOnPart) -> str:
    """Say how far off the wire's end is, and where."""
    assert seam.least is not None and seam.most is not None  # noqa: S101 - it is off
    place = _worst(seam)
    off = abs(place.distance)
    if seam.through is not None:
        return (
            f"the wire passes through the {place.part} on the way to its end; it goes in "
            f"{millimetres(off)} before it, at {percent(place.share)}"
        )
    said = millimetres(off, 0 if off > _COARSE else 1)
    if not seam.is_off:
        return (
            f"the wire's end runs on a plain face, up to {said} beside the nearest edge, corner or "
            f"other part, on the {place.part} at {percent(place.share)}"
        )
    if place.distance < 0:
        return f"the wire's end is up to {said} inside the {place.part}, at {percent(place.share)}"
    if seam.least.distance > seam.allowance + NOWHERE:
        least = seam.least.distance
        near = millimetres(least, 0 if least > _COARSE else 1)
        return f"the wire's end is {near} or more from the nearest part, the {seam.least.part}"
    return (
        f"the wire's end is up to {said} from the nearest part, the {place.part}, at "
        f"{percent(place.share)}"
    )


def _cure(seam: SeamOnPart) -> str:
    if seam.is_nowhere or seam.is_deep:
        return "Base, joint signs, tool centre point, units, places of the parts?"
    if not seam.is_off:
        return (
            "Check base height, tool centre point and the parts' places; a bead that is meant to "
            "lie on a plain face needs 'surfacing: true'."
        )
    return (
        "Check stick-out, tool centre point and the part's place; a gap or groove that is meant "
        "needs 'off part' on the seam."
    )


def _numbers(seam: SeamOnPart) -> dict[str, float]:
    return {"off": _amount(seam), "allowance": seam.allowance}

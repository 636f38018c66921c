"""Work and travel angle of a seam in words: least and most, and what they are counted from."""

from __future__ import annotations

import numpy as np

from pathsim.findings.spread import Spread
from pathsim.findings.torch_angles import SeamAngles
from pathsim.findings.weld_section import Joint

#: Two faces off a square by more than this are worth a word, rad.
_SQUARE = np.radians(2.5)


def angles_in_words(angles: SeamAngles) -> str:
    """Say a seam's angles: ``work angle 45 deg from the line square to the hinge plate, ...``."""
    said = [_work(angles), f"travel angle {travel_in_words(angles.travel)}"]
    return ", ".join(part for part in said if part)


def work_in_words(angles: SeamAngles) -> str:
    """Say the work angle alone, as a table does: ``44 to 46 deg``; nothing where none is known."""
    if angles.work is None:
        return ""
    if angles.joint is Joint.CORNER:
        return from_to(angles.work)
    return _to_a_side(angles.work, "left", "right")


def travel_in_words(spread: Spread) -> str:
    """Say a travel angle: ``7 deg push``, or from the most push to the most drag."""
    return _to_a_side(spread, "drag", "push")


def _work(angles: SeamAngles) -> str:
    work, said = angles.work, work_in_words(angles)
    if work is None:
        return "work angle not known, as no part's face is near the wire's end"
    line = "the plates" if angles.joint is Joint.LEVEL else f"the {angles.square_to}"
    text = f"work angle {said} from the line square to {line}"
    if angles.joint is Joint.CORNER:
        if not angles.goes_through:
            text += " (taken as the plate that goes through: it is the flatter one)"
        if abs(sum(over.middle for over in angles.over) - np.pi / 2) > _SQUARE:
            one, other = (from_to(over) for over in angles.over)
            text += f", {one} over its face and {other} over the other"
    elif len(angles.over) > 1:
        one, other = (from_to(over) for over in angles.over)
        text += f", {one} over the left face of the groove and {other} over the right"
    if angles.told_on < 1:
        text += f", told on {100 * angles.told_on:.0f} % of the seam"
    return text


def from_to(spread: Spread) -> str:
    """Say a spread of angles: ``45 deg``, or ``44 to 46 deg``."""
    # what rounds to nothing has no sign
    least, most = (round(float(np.degrees(v))) for v in (spread.least, spread.most))
    return f"{most} deg" if least == most else f"{least} to {most} deg"


def _to_a_side(spread: Spread, above: str, below: str) -> str:
    """Say a signed angle by its sides; what rounds to nothing is on neither."""
    low, high = (round(float(np.degrees(v))) for v in (spread.least, spread.most))
    if low == high:
        return _one_side(low, above, below)
    if low >= 0 or high <= 0:
        first, last = sorted((abs(low), abs(high)))
        return f"{first} to {last} deg {above if low >= 0 else below}"
    return f"from {_one_side(low, above, below)} to {_one_side(high, above, below)}"


def _one_side(angle: int, above: str, below: str) -> str:
    side = "" if angle == 0 else f" {above}" if angle > 0 else f" {below}"
    return f"{abs(angle)} deg{side}"

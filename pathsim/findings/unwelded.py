"""Parts on which no seam of the program lies: out of place, or no parts at all."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.units import millimetres

#: A seam that is at most so much farther from a part than may be off one still lies on it, m.
_BESIDE = 2e-3
_MOST_NAMES = 5


def unwelded(evidence: Evidence) -> Iterator[Finding]:
    """Note the parts that no seam comes near, with the nearest each of them has, in one finding.

    Where a seam is off its part, or could not be looked at, that is said first and alone.
    """
    seams = evidence.seam_places
    if not seams or any(s.untold or not s.is_whole or s.is_off or s.is_beside for s in seams):
        return
    off = max(seam.allowance for seam in seams) + _BESIDE
    nearest = {name: min(seam.parts[name] for seam in seams) for name in seams[0].parts}
    left = {name: gap for name, gap in nearest.items() if gap > off}
    if not left:
        return
    each = [f"{name} ({millimetres(gap)} from the nearest seam)" for name, gap in left.items()]
    said = ", ".join(each[:_MOST_NAMES])
    if len(each) > _MOST_NAMES:
        said += f" and {len(each) - _MOST_NAMES} more"
    one = len(left) == 1
    text = (
        f"No seam lies on {'this part' if one else 'these parts'}: {said}. If a seam shall join "
        f"{'it' if one else 'one of them'}, check {'its place' if one else 'their places'}; what "
        "only holds or stands by is a clamp or a fixture, not a part: the wire may not touch it."
    )
    body = next(iter(left)) if one else ""
    yield Finding(Level.NOTE, FindingKind.UNWELDED, text, body=body)

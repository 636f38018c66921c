"""How far bodies may be off their places, in words."""

from __future__ import annotations

import numpy as np

from pathsim.findings.placement_tolerance import PlacementTolerance
from pathsim.units import degrees, guaranteed_millimetres, millimetres


def placement_lines(tolerances: tuple[PlacementTolerance, ...], count: int = 3) -> tuple[str, ...]:
    """Say how far the most delicate bodies may be off, and which have no number, by its cause."""
    known = [t for t in tolerances if not t.unknown]
    excluded = list(dict.fromkeys(t.excluded for t in known[:count] if t.excluded))
    once = excluded[0] if len(excluded) == 1 else ""
    lines = [_placement(t, once) for t in known[:count]]
    for why in dict.fromkeys(t.unknown for t in tolerances if t.unknown):
        bodies = ", ".join(t.body for t in tolerances if t.unknown == why)
        lines.append(f"{bodies}: no number, {why}")
    if known:
        but = f"{once} not counted, " if once else ""
        lines.append(
            "shift in any direction or turn about its origin, not both; "
            f"{but}fit-up of the weld and neighbours are not judged"
        )
    return tuple(lines)


def _placement(tolerance: PlacementTolerance, once: str) -> str:
    """Say one body's; ``once``: what is said of all of them together not to count."""
    known = tolerance.known_to
    if tolerance.shift <= 0 and known > 0:
        return (
            f"{tolerance.body}: none, the {tolerance.nearest} may touch it: places known to "
            f"{millimetres(known)} only"
        )
    if tolerance.shift <= 0:
        return f"{tolerance.body}: none, the {tolerance.nearest} touches it already"
    shift, turn = guaranteed_millimetres(tolerance.shift), _down(tolerance.turn)
    more = "at least " if tolerance.is_at_least else ""
    notes = [] if tolerance.is_at_least else [tolerance.nearest]
    notes += [f"beyond the {millimetres(known)} its place is known to"] if known > 0 else []
    notes += [f"{tolerance.excluded} not counted"] if tolerance.excluded not in ("", once) else []
    said = f" ({'; '.join(notes)})" if notes else ""
    return f"{tolerance.body}: {more}{shift} or {turn}{said}"


def _down(turn: float) -> str:
    """Angle in words, rounded down: it is a promise."""
    return degrees(float(np.floor(np.degrees(turn) * 10) / 10 * np.pi / 180))

"""What a joint move does that people do not expect."""

from __future__ import annotations

from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.units import millimetres

#: A smaller detour does not explain anything, m.
_WORTH_SAYING = 0.005


def detour_sentence(track: MoveTrack) -> str:
    """Say how far the tip leaves the straight line on a joint move; empty for other moves."""
    if track.move.kind is not MoveKind.JOINT or track.detour < _WORTH_SAYING:
        return ""
    return (
        " A joint move does not travel straight: the tip leaves the straight line "
        f"by up to {millimetres(track.detour, 0)}."
    )

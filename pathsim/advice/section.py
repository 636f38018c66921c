"""An air section: the moves from where the arc goes off to where it comes on, or to what stays.

Retract, points on the way and approach of one section are planned together. What stays: welds,
the start, and points on the way that are clear; a point that is not clear is taught anew.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.advice.sites import straight_speed
from pathsim.findings.weld_places import is_air_point
from pathsim.model import Cell, Move, MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array

#: Share of the joint speeds where the program has no joint move.
JOINT_SPEED = 0.25


@dataclass(frozen=True, eq=False)
class SectionEnd:
    """Where a section starts or ends: a weld, or a point that stays as it is.

    ``q (axes,)``; ``seam``: the weld's move beside it, None where there is none. ``leg``: the
    straight move between a weld and ``leg_point``, at ``leg_q (axes,)``; None where there is none.
    ``is_shared``: that point is used elsewhere too.
    """

    name: str
    q: Array
    seam: Move | None = None
    leg: MoveTrack | None = None
    leg_point: str = ""
    leg_q: Array | None = None
    is_shared: bool = False


@dataclass(frozen=True, eq=False)
class AirSection:
    """Moves ``first`` to ``last`` by index, between two ends, the legs among them.

    ``inner``: the moves between the legs; ``free``: points between them that may be taught anew.
    ``speed``: share of the joint speeds; ``straight``: speed of legs, m/s.
    """

    first: int
    last: int
    start: SectionEnd
    end: SectionEnd
    inner: tuple[MoveTrack, ...]
    free: tuple[str, ...]
    speed: float
    straight: float

    @property
    def ends(self) -> tuple[SectionEnd, SectionEnd]:
        """Both ends."""
        return self.start, self.end


def section_of(
    cell: Cell, tracks: Sequence[MoveTrack], index: int, is_clear: Callable[[Array], bool]
) -> AirSection | None:
    """Return the section that the air move ``index`` belongs to; None where none can be planned.

    ``is_clear`` tells whether a posture ``(axes,)`` keeps the margins of the air.
    """
    first = last = index
    while first > 0 and not tracks[first - 1].move.is_fixed:
        is_leg = _is_straight(tracks[first - 1]) and _leaves(tracks, first - 1)
        is_leg = is_leg or (_is_straight(tracks[first]) and _comes(tracks, first))
        if not is_leg and not _is_in_the_way(
            cell, tracks[first].start, tracks[first].q[0], is_clear
        ):
            break
        first -= 1
    while last + 1 < len(tracks) and not tracks[last + 1].move.is_fixed:
        is_leg = _is_straight(tracks[last + 1]) and _comes(tracks, last + 1)
        is_leg = is_leg or (_is_straight(tracks[last]) and _leaves(tracks, last))
        target = tracks[last].move.target
        if not is_leg and not _is_in_the_way(cell, target, tracks[last].q[-1], is_clear):
            break
        last += 1
    mine = tuple(tracks[first : last + 1])
    if any(t.fault is not None or t.move.is_fixed or t.move.kind is MoveKind.ARC for t in mine):
        return None
    if not all(t.continuous for t in mine) or tracks[index].start == tracks[index].move.target:
        return None
    return _section(cell, tracks, mine)


def _section(
    cell: Cell, tracks: Sequence[MoveTrack], mine: tuple[MoveTrack, ...]
) -> AirSection | None:
    first, last = mine[0].index, mine[-1].index
    leaves, comes = _leaves(tracks, first), _comes(tracks, last)
    has_leg = leaves and len(mine) > 1 and _is_leg(cell, mine[0], mine[0].move.target)
    lands = comes and len(mine) > 1 + has_leg and _is_leg(cell, mine[-1], mine[-1].start)
    inner = mine[has_leg : len(mine) - lands]
    used = Counter(t.move.target for t in tracks if not first <= t.index <= last)
    if not inner or any(used[t.move.target] for t in inner[:-1]):
        return None
    seam_before = tracks[first - 1].move if leaves else None
    seam_behind = tracks[last + 1].move if comes else None
    start = SectionEnd(mine[0].start, mine[0].q[0], seam_before)
    end = SectionEnd(mine[-1].move.target, mine[-1].q[-1], seam_behind)
    if has_leg:
        name = mine[0].move.target
        start = SectionEnd(start.name, start.q, seam_before, mine[0], name, mine[0].q[-1],
                           bool(used[name]))  # fmt: skip
    if lands:
        name = mine[-1].start
        end = SectionEnd(end.name, end.q, seam_behind, mine[-1], name, mine[-1].q[0],
                         bool(used[name]))  # fmt: skip
    joints = [t.move.speed for t in (*tracks, *mine) if t.move.kind is MoveKind.JOINT]
    return AirSection(
        first, last, start, end, inner, tuple(t.move.target for t in inner[:-1]),
        joints[-1] if joints else JOINT_SPEED, straight_speed(tracks),
    )  # fmt: skip


def _is_in_the_way(cell: Cell, name: str, q: Array, is_clear: Callable[[Array], bool]) -> bool:
    """Tell whether a point on the way may be taught anew, and has to be."""
    return is_air_point(cell, name) and not is_clear(q)


def _is_leg(cell: Cell, track: MoveTrack, point: str) -> bool:
    return _is_straight(track) and is_air_point(cell, point)


def _is_straight(track: MoveTrack) -> bool:
    return track.move.kind is MoveKind.LINEAR and not track.move.is_fixed


def _leaves(tracks: Sequence[MoveTrack], index: int) -> bool:
    return index > 0 and tracks[index - 1].move.at_work and tracks[index].continuous


def _comes(tracks: Sequence[MoveTrack], index: int) -> bool:
    return index + 1 < len(tracks) and tracks[index + 1].move.at_work


def far_from(a: Array, b: Array) -> float:
    """Largest difference of two postures ``(axes,)``, rad or m."""
    return float(np.abs(a - b).max())

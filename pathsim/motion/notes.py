"""What the planner decided or noticed, as records: no sentence is made here."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from pathsim.arm.postures import Posture


class NoteKind(StrEnum):
    """What a note of the planner is about.

    POSTURE_PICKED: a pose that several joint values meet, or that was searched for.
    ARRIVES_OTHERWISE: a straight move ends in other joint values, or in another posture, than
    taught. POSE_DISAGREES: joints and pose of one point.
    """

    POSTURE_PICKED = "posture picked"
    ARRIVES_OTHERWISE = "arrives otherwise"
    POSE_DISAGREES = "pose disagrees"


@dataclass(frozen=True)
class Pick:
    """Joint values taken for a pose, and what else would have met all that was said of it.

    ``q``: values of all axes, rad and m. ``posture``: how the arm stands then; None where postures
    have no names. ``others``: how many more joint vectors within limits fit. ``apart``: joints (by
    index) of which a rough value would have told all of these from it; empty where only joint
    values would. ``is_other_posture``: whether one of the others stands in another posture.
    ``unlimited``: joints without limits, of which every whole turn fits. ``shares_turn``: joints 4
    and 6 line up there and may share their turn in any way. ``is_search``: found by a search,
    which may have missed some. ``from_middle``: the first point; there is none before it, and
    nearest means nearest to the middle of the joint ranges.
    """

    q: tuple[float, ...]
    posture: Posture | None
    others: int
    apart: tuple[int, ...] = ()
    is_other_posture: bool = False
    unlimited: tuple[int, ...] = ()
    shares_turn: bool = False
    is_search: bool = False
    from_middle: bool = False

    @property
    def is_open(self) -> bool:
        """Tell whether other joint values fit as well."""
        return self.others > 0 or bool(self.unlimited) or self.shares_turn


@dataclass(frozen=True)
class PlanNote:
    """Something decided or noticed while planning that a person must hear of.

    ``move``: index of the move that comes to the point; None for the start and for what is about
    the point alone. ``amount`` in m, ``turn`` in rad; ``axis``: index of the axis that turned.
    ``taught`` and ``taken``: the posture asked for and the one arrived in, where these differ.
    """

    kind: NoteKind
    point: str
    move: int | None
    amount: float = 0.0
    turn: float = 0.0
    axis: int | None = None
    taught: Posture | None = None
    taken: Posture | None = None
    pick: Pick | None = None

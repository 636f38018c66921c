"""By how much a program is clear, in numbers alone: no spans, and a record of the worst pair only.

For points that are dragged, where a check's records would take longer than the search.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pathsim.clearance.asked_pairs import AskedPairs
from pathsim.clearance.contact_rules import (
    corner_margin,
    own_margin,
    pairs_to_measure,
    unknown_place,
)
from pathsim.clearance.engine import Engine, Pair
from pathsim.clearance.measure import all_questions, corners_of, in_corner
from pathsim.clearance.narrowing import narrowed_bounds
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.pair_table import PairClearance
from pathsim.model import Cell
from pathsim.motion import Trajectory
from pathsim.transforms import Array, BoolArray


@dataclass(frozen=True)
class Quick:
    """By how much a program is clear, without findings (``Session.evaluate``).

    ``lower`` m: least guaranteed clearance of all pairs with what stands, wire and part by a weld
    left out; capped. ``spare`` m: how much guaranteed clearance is left above the margin where that
    is least, of the arm against itself too; negative where a margin is not kept, -inf where
    something touches. ``piece``, ``body``, ``move``: where that is, the move counted from 1; empty
    and 0 where nothing is measured. ``why_not``: why a move cannot be run as taught, was not
    measured, or is guaranteed for one posture alone; empty when none of it. ``seconds``: of the
    program.
    """

    lower: float
    spare: float
    piece: str
    body: str
    move: int
    why_not: str
    seconds: float

    @property
    def is_clear(self) -> bool:
        """True when every move can be run and every pair keeps its margin.

        That is less than a check says: postures that were picked, doubts of the model, seams on
        their parts and bodies that overlap are not looked at.
        """
        return not self.why_not and self.spare >= 0.0


class Least(NamedTuple):
    """What is least over all pairs and moves of a program.

    ``lower`` m: guaranteed clearance from what stands; ``spare`` m: what is left over a margin,
    -inf where something touches, between ``piece`` and ``body`` in ``move`` (its number; 0: there
    is no pair to speak of).
    """

    lower: float
    spare: float
    piece: str = ""
    body: str = ""
    move: int = 0


def least_clearance(cell: Cell, trajectory: Trajectory, engine: Engine) -> Least:
    """Measure all pairs of all moves, each as guaranteed as ``measure_moves`` has it."""
    things, own, joined, asked = all_questions(cell, trajectory)
    found = narrowed_bounds(engine, asked, engine.bounds(asked.queries))
    pairs, which = asked.queries.pairs, asked.queries.pair
    swallowed = np.array([pair in joined.inside for pair in pairs], dtype=bool)[which]
    lower = np.where(swallowed, 0.0, found.lower)
    touches = swallowed | found.touches
    spare = np.where(touches, -np.inf, lower - asked.margins)
    # Of the arm itself only what is too near counts, and of the wire by a weld only a touch.
    stands = ~asked.is_own & ~asked.at_weld
    counts = stands | (asked.is_own & (lower < asked.margins)) | (asked.at_weld & touches)
    least = float(lower[stands].min(initial=np.inf))
    worst = _worst(asked, spare, counts)
    for pair, is_own in _in_corners(cell, trajectory, engine, (things, own), (least, worst.spare)):
        if not is_own:
            least = min(least, pair.clearance.lower)
        left = -np.inf if pair.clearance.touches else pair.clearance.lower - pair.margin
        if left < worst.spare and (not is_own or left < 0.0):
            worst = Least(0.0, left, pair.piece, pair.body, pair.move)
    return worst._replace(lower=least)


def _worst(asked: AskedPairs, spare: Array, counts: BoolArray) -> Least:
    if not counts.any():
        return Least(np.inf, np.inf)
    k = int(np.argmin(np.where(counts, spare, np.inf)))
    track, piece, standing, _ = asked.queries[k]
    return Least(0.0, float(spare[k]), piece.name, standing.name, track.number)


def _in_corners(
    cell: Cell,
    trajectory: Trajectory,
    engine: Engine,
    all_pairs: tuple[tuple[Obstacle, ...], list[Pair]],
    least: tuple[float, float],
) -> Iterator[tuple[PairClearance, bool]]:
    """Yield pairs in rounded corners that may be nearer than all else, and which are the arm's.

    ``least``: lower bound, and spare over the margin, of all that is known already, m.
    """
    things, own = all_pairs
    corners = corners_of(cell, trajectory, engine)
    for track in trajectory.tracks:
        met = corners[track.index]
        if not met:
            continue
        asked = [(pair, corner_margin(cell, pair[0]) + unknown_place(*pair), False)
                 for pair in pairs_to_measure(cell, track, things)]  # fmt: skip
        asked += [(pair, own_margin(*pair), True) for pair in own]
        for rounded, window in met:
            rounded.look_at([pair for pair, *_ in asked])
            for pair, margin, is_own in asked:
                # Of the arm itself only what is below its margin counts.
                spare = min(least[1], 0.0) if is_own else least[1]
                needed = spare + margin if is_own else max(least[0], spare + margin)
                if not rounded.is_beyond(*pair, needed):
                    yield in_corner(track, *pair, rounded, window, margin), is_own

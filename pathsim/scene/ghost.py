"""The program with a proposal, beside the one as it is: ways that come, ways that go, postures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.advice.proposal import Proposal, numbers_in_rows
from pathsim.clearance import MoveClearance
from pathsim.model import Cell
from pathsim.scene.records import PointName
from pathsim.transforms import Array, frozen

#: Postures at so many new points are drawn, the first ones.
_MOST_POSTURES = 4
#: What is so near to a new point, or to what it cures, belongs into one picture, m.
_AROUND = 0.12


@dataclass(frozen=True, eq=False)
class CureGhost:
    """What a proposal changes, to be drawn over the scene as it is.

    ``ways``: tip ways ``(n, 3)`` of the moves that come; ``gone``: of those that go. ``points``:
    new points where the tip stands; ``poses``: ``T_world_link (links, 4, 4)`` at each of the first
    of them. ``before``, ``after``, ``time``: the same numbers as in the proposal's words.
    """

    ways: tuple[Array, ...]
    gone: tuple[Array, ...]
    points: tuple[PointName, ...]
    poses: tuple[Array, ...]
    before: str
    after: str
    time: str

    def held(self, place: Array | None) -> Array:
        """Places ``(n, 3)`` that a picture of it has to hold: what is near its points.

        ``place (3,)``: of the finding that it cures. A way home is long: all of it in one picture
        would show nothing of what is cured.
        """
        middles = [point.place for point in self.points]
        middles += [place] if place is not None else []
        ways = [*self.ways, *self.gone]
        if not middles:
            return np.concatenate(ways) if ways else np.zeros((0, 3))
        at = np.array(middles)
        near = [
            way[np.linalg.norm(way[:, None] - at, axis=2).min(axis=1) < _AROUND] for way in ways
        ]
        return np.concatenate([at, *near])


def ghost_of(proposal: Proposal) -> CureGhost:
    """Return what a proposal changes, as it is drawn."""
    cell = proposal.after.cell
    qs = np.array(list(proposal.change.points.values())).reshape(-1, cell.axes.count)
    rows = dict(numbers_in_rows(proposal))
    return CureGhost(
        _ways(cell, proposal.new_moves),
        _ways(proposal.before.cell, proposal.moves_gone),
        tuple(
            PointName(name, place)
            for name, place in zip(proposal.change.points, cell.tips(qs), strict=True)
        ),
        tuple(frozen(T) for T in cell.link_poses(qs[:_MOST_POSTURES])) if len(qs) else (),
        rows.get("before", ""),
        rows["after"],
        rows["time"],
    )


def _ways(cell: Cell, moves: tuple[MoveClearance, ...]) -> tuple[Array, ...]:
    return tuple(frozen(cell.tips(move.track.q)) for move in moves)

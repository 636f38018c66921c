"""The program with a proposal, beside the one as it is: ways that come, ways that go, postures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.advice.cell_proposal import CellProposal
from pathsim.advice.proposal import Proposal, moves_only_in, numbers_in_rows, time_in_words
from pathsim.check import CheckResult
from pathsim.clearance import MoveClearance
from pathsim.model import Cell
from pathsim.scene.records import PointName, SceneMesh
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
    of them. ``bodies``: what of the cell would stand elsewhere, there, vertices in the world.
    ``before``, ``after``, ``time``: the same numbers as in the proposal's words. ``what``: what is
    to be changed by hand, as it is no change of the program that could be written; ``after`` is
    then whole sentences.
    """

    ways: tuple[Array, ...]
    gone: tuple[Array, ...]
    points: tuple[PointName, ...]
    poses: tuple[Array, ...]
    before: str
    after: str
    time: str
    bodies: tuple[SceneMesh, ...] = ()
    what: str = ""

    def held(self, place: Array | None) -> Array:
        """Places ``(n, 3)`` that a picture of it has to hold: what is near its points.

        ``place (3,)``: of the finding that it cures. A way home is long: all of it in one picture
        would show nothing of what is cured.
        """
        middles = [point.place for point in self.points]
        middles += [place] if place is not None else []
        middles += [mesh.vertices.mean(axis=0) for mesh in self.bodies]
        ways = [*self.ways, *self.gone]
        if not middles:
            return np.concatenate(ways) if ways else np.zeros((0, 3))
        at = np.array(middles)
        near = [
            way[np.linalg.norm(way[:, None] - at, axis=2).min(axis=1) < _AROUND] for way in ways
        ]
        corners = [
            np.array([mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)]) for mesh in self.bodies
        ]
        return np.concatenate([at, *near, *corners])


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


def ghost_of_cell(proposal: CellProposal) -> CureGhost:
    """Return what a change of the cell changes: bodies where they would stand, points, ways."""
    change, before, after = proposal.change, proposal.before, proposal.after
    cell = after.cell
    qs = np.array(list(change.points.values())).reshape(-1, cell.axes.count)
    return CureGhost(
        _ways(cell, moves_only_in(after, before)),
        _ways(before.cell, moves_only_in(before, after)),
        tuple(
            PointName(name, place) for name, place in zip(change.points, cell.tips(qs), strict=True)
        ),
        tuple(frozen(T) for T in cell.link_poses(qs[:_MOST_POSTURES])) if len(qs) else (),
        "",
        " ".join(proposal.evidence),
        time_in_words(before, after),
        _elsewhere(before.cell, after),
        f"{change.kind}: {change.text}",
    )


def _elsewhere(before: Cell, result: CheckResult) -> tuple[SceneMesh, ...]:
    """Return bodies of a checked cell that stand elsewhere in ``before``, as at the start."""
    after, old = result.cell, {body.name: body for body in before.bodies}
    poses = after.link_poses(result.trajectory.tracks[0].q[:1])[0]
    carried = {piece.body.name: piece for piece in after.pieces if piece.body is not None}
    found = []
    for body in after.bodies:
        was = old.get(body.name)
        if was is None or (
            np.array_equal(was.T_world_body, body.T_world_body) and was.mesh is body.mesh
        ):
            continue
        piece = carried.get(body.name)
        if piece is None:
            mesh = body.mesh.moved(body.T_world_body)
        else:
            mesh = piece.mesh.moved(poses[piece.link])
        found.append(SceneMesh(body.name, str(body.role), None, mesh.vertices, mesh.faces))
    return tuple(found)


def _ways(cell: Cell, moves: tuple[MoveClearance, ...]) -> tuple[Array, ...]:
    return tuple(frozen(cell.tips(move.track.q)) for move in moves)

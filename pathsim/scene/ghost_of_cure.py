"""The ghost of a proposal: what it changes, as it is drawn."""

from __future__ import annotations

import numpy as np

from pathsim.advice.cell_proposal import CellProposal
from pathsim.advice.proposal import Proposal, moves_only_in, numbers_in_rows, time_in_words
from pathsim.check import CheckResult
from pathsim.clearance import MoveClearance
from pathsim.model import Cell
from pathsim.scene.ghost import CureGhost
from pathsim.scene.records import PointName, SceneMesh
from pathsim.transforms import Array, frozen

#: Postures at so many new points are drawn, the first ones.
_MOST_POSTURES = 4


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

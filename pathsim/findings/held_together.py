"""Doubts about what a joint, a flange or a turning table holds together."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.clearance.joint_pairs import joined_of, mounts_of
from pathsim.clearance.joint_store import Apart
from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.findings.standing import listed
from pathsim.units import millimetres

#: Castings whose drawings overlap so much farther out than their bearing goes are off their place.
_MUCH = 2.0


def held_together(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each joint, flange or table that holds what it should not, or nothing."""
    yield from _drawn_into_each_other(evidence)
    yield from _torch_in_link(evidence)
    yield from _table(evidence)


def _drawn_into_each_other(evidence: Evidence) -> Iterator[Finding]:
    cell = evidence.cell
    for one in joined_of(cell):
        known = one.range.known
        if known.growth <= 1 or known.zone is None:
            continue
        text = (
            f"The {one.piece.name} and the {one.standing.name} are drawn into each other up to "
            f"{millimetres(known.zone.radius, 0)} from the axis of {cell.axes.names[one.column]}, "
            "whatever its value. Contact of the two is not told nearer than that."
        )
        solids = one.range.sides.are_solids
        level = Level.WATCH if known.growth > _MUCH and not solids else Level.NOTE
        yield Finding(
            level, FindingKind.DRAWN_INTO, text, piece=one.piece.name, body=one.standing.name,
            numbers={"radius": known.zone.radius},
        )  # fmt: skip


def _torch_in_link(evidence: Evidence) -> Iterator[Finding]:
    cell = evidence.cell
    link = cell.link_name(cell.arm.dof)
    for mount in mounts_of(cell):
        apart = mount.range.over(0.0, 0.0)
        touches = apart is Apart.ASK and mount.range.distance(0.0) <= 0
        if apart not in (Apart.INSIDE, Apart.AROUND) and not touches:
            continue
        zone = mount.range.known.zone
        where = "" if zone is None else f", {millimetres(zone.radius, 0)} and more from its axis"
        text = (
            f"The {mount.piece.name} lies in {link}{where}: check the torch's unit and the frame "
            "it is drawn in."
        )
        yield Finding(Level.WATCH, FindingKind.DRAWN_INTO, text, piece=mount.piece.name, body=link)


def _table(evidence: Evidence) -> Iterator[Finding]:
    cell, tracks = evidence.cell, evidence.trajectory.tracks
    if cell.table is None:
        return
    values = np.concatenate([cell.table_values(track.q) for track in tracks] or [np.zeros((1, 1))])
    turns = bool(np.abs(values).max() > 1e-9)
    if not any(body.on_table for body in cell.bodies):
        text = "The turning table carries nothing"
        text += " and turns: give what turns with it 'on: turning table'." if turns else "."
        level = Level.WATCH if turns else Level.NOTE
        yield Finding(level, FindingKind.TABLE_EMPTY, text)
        return
    tables = [move.table for move in evidence.moves]
    touching = (pair for table in tables for pair in table.where(table.numbers.touches))
    told = {(pair.piece, pair.body) for pair in touching}
    met: dict[str, list[str]] = {}
    for (piece, thing), found in evidence.at_zero:
        if found.touches and (piece.name, thing.name) not in told:
            met.setdefault(thing.name, []).append(piece.name)
    for name, pieces in met.items():
        text = (
            f"The {name} stands still and touches the {listed(pieces)} on the turning table, with "
            f"the table at zero. Turn it along ('on: turning table'), or move it off."
        )
        yield Finding(Level.WATCH, FindingKind.TOUCHES_TABLE, text, piece=pieces[0], body=name)

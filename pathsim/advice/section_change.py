"""A planned section as one change of the program: retract, points on the way, approach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pathsim.advice.change import Change, new_name
from pathsim.advice.roots import Root
from pathsim.advice.section import AirSection
from pathsim.model import Cell, Move, MoveKind
from pathsim.transforms import Array


def section_change(
    cell: Cell, section: AirSection, start: Root, way: Sequence[Array], end: Root
) -> tuple[Change, list[str]]:
    """Return the change that goes from ``start`` by ``way`` to ``end``, and its points' names.

    Names are those of the retract (if taught), the points on the way, the approach (if taught).
    Points on the way that are there already are taught anew first; where there are more of them
    than are wanted, the last move is divided.
    """
    points: dict[str, Array] = {}
    moves: list[tuple[int, Move]] = []
    instead: dict[int, Move] = {}
    names: list[str] = []
    last = section.inner[-1]
    joint = Move(MoveKind.JOINT, last.move.target, section.speed)

    def name_for(wanted: str, q: Array) -> str:
        name = new_name(cell, wanted, points)
        points[name] = q
        names.append(name)
        return name

    if start.is_taught:
        leg, first = section.start.leg, section.inner[0].index
        if leg is None:
            move = Move(MoveKind.LINEAR, name_for("retract", start.q), section.straight)
            moves.append((first, move))
        elif section.start.is_shared:
            target = name_for("retract", start.q)
            instead[leg.index] = replace(leg.move, target=target, line=None)
        else:
            points[section.start.leg_point] = start.q
            names.append(section.start.leg_point)
    for name, q in zip(section.free, _enough(start.q, way, end.q, len(section.free)), strict=False):
        points[name] = q
        names.append(name)
    for track in section.inner[:-1]:
        if track.move.kind is not MoveKind.JOINT:
            instead[track.index] = replace(joint, target=track.move.target, wait=track.move.wait)
    for q in way[len(section.free) :]:
        moves.append((last.index, replace(joint, target=name_for("on the way", q))))
    goes = joint if last.move.kind is not MoveKind.JOINT else last.move
    if end.is_taught and section.end.leg is None:
        target = name_for("approach", end.q)
        moves.append((last.index, replace(goes, target=target, rounding=0.0, wait=0.0, line=None)))
        down = Move(MoveKind.LINEAR, last.move.target, section.straight, wait=last.move.wait)
        instead[last.index] = down
    elif end.is_taught and section.end.is_shared:
        target = name_for("approach", end.q)
        instead[last.index] = replace(goes, target=target, rounding=0.0, line=None)
    else:
        if end.is_taught:
            points[section.end.leg_point] = end.q
            names.append(section.end.leg_point)
        if last.move.kind is not MoveKind.JOINT:
            instead[last.index] = replace(joint, wait=last.move.wait)
    return Change(cell, points, tuple(moves), tuple(sorted(instead.items()))), names


def _enough(start: Array, way: Sequence[Array], end: Array, count: int) -> list[Array]:
    """Return at least ``count`` points: the last move is divided where there are too few."""
    points = list(way)
    missing = count - len(points)
    before = points[-1] if points else start
    for share in np.linspace(0, 1, missing + 2)[1:-1] if missing > 0 else ():
        points.append(before + share * (end - before))
    return points

"""A planned section as one change of the program: retract, points on the way, approach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

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
    made = _Made(cell, section)
    if start.is_taught:
        made.leaves_by(start.q)
    made.goes_by(_enough(start.q, way, end.q, len(section.free)))
    made.comes_by(end.q if end.is_taught else None)
    instead = tuple(sorted(made.instead.items()))
    return Change(cell, made.points, tuple(made.moves), instead), list(made.points)


@dataclass(eq=False)
class _Made:
    """What a change is made of so far; ``points`` in the order in which they are gone by."""

    cell: Cell
    section: AirSection
    points: dict[str, Array] = field(default_factory=dict)
    moves: list[tuple[int, Move]] = field(default_factory=list)
    instead: dict[int, Move] = field(default_factory=dict)

    @property
    def joint(self) -> Move:
        """The last move between the legs as a joint move, without what it does at its end."""
        move = self.section.inner[-1].move
        if move.kind is MoveKind.JOINT:
            return replace(move, rounding=0.0, wait=0.0, pauses=(), line=None)
        return Move(MoveKind.JOINT, move.target, self.section.speed)

    def named(self, wanted: str, q: Array) -> str:
        """Teach a new point; return its name."""
        name = new_name(self.cell, wanted, self.points)
        self.points[name] = q
        return name

    def leaves_by(self, q: Array) -> None:
        """Leave the weld by a leg to ``q (axes,)``."""
        section, leg = self.section, self.section.start.leg
        if leg is None:
            move = Move(MoveKind.LINEAR, self.named("retract", q), section.straight)
            self.moves.append((section.inner[0].index, move))
        elif section.start.is_shared:
            target = self.named("retract", q)
            self.instead[leg.index] = replace(leg.move, target=target, line=None)
        else:
            self.points[section.start.leg_point] = q

    def goes_by(self, way: Sequence[Array]) -> None:
        """Go by points ``(axes,)`` each: those that are there, then new ones."""
        section = self.section
        self.points.update(zip(section.free, way, strict=False))
        for track in section.inner[:-1]:
            if track.move.kind is not MoveKind.JOINT:
                move = replace(
                    self.joint,
                    target=track.move.target,
                    wait=track.move.wait,
                    pauses=track.move.pauses,
                )
                self.instead[track.index] = move
        for q in way[len(section.free) :]:
            move = replace(self.joint, target=self.named("on the way", q))
            self.moves.append((section.inner[-1].index, move))

    def comes_by(self, q: Array | None) -> None:
        """Come to the section's end by a leg from ``q (axes,)``, or as it is come to now."""
        section, last = self.section, self.section.inner[-1]
        if q is not None and section.end.leg is None:
            there = replace(self.joint, target=self.named("approach", q))
            down = Move(
                MoveKind.LINEAR,
                last.move.target,
                section.straight,
                wait=last.move.wait,
                pauses=last.move.pauses,
            )
            self.moves.append((last.index, there))
            self.instead[last.index] = down
            return
        if q is not None and section.end.is_shared:
            target = self.named("approach", q)
            self.instead[last.index] = replace(
                self.joint, target=target, wait=last.move.wait, pauses=last.move.pauses
            )
            return
        if q is not None:
            self.points[section.end.leg_point] = q
        if last.move.kind is not MoveKind.JOINT:
            self.instead[last.index] = replace(
                self.joint, wait=last.move.wait, pauses=last.move.pauses
            )


def _enough(start: Array, way: Sequence[Array], end: Array, count: int) -> list[Array]:
    """Return at least ``count`` points: the last move is divided where there are too few."""
    points = list(way)
    missing = count - len(points)
    before = points[-1] if points else start
    shares = np.linspace(0, 1, missing + 2)[1:-1] if missing > 0 else np.zeros(0)
    return [*points, *(before + share * (end - before) for share in shares)]

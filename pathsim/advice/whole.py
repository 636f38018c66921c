"""The best proposals of all findings as one change; what serves several seams is taught once.

The order of the program is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from pathsim.advice.change import Change, changed, together
from pathsim.advice.new_points import about_new_points
from pathsim.advice.proposal import POINT, Advice, Proposal
from pathsim.advice.trial import Evaluator, runs_the_same_welds
from pathsim.findings import Level
from pathsim.findings.weld_places import is_air_point, weld_points
from pathsim.model import Move, Program
from pathsim.transforms import Array

#: Order of several changes to one move; the others are between these.
_ORDER = {"retract": 0, "approach": 2}
#: Points whose tips are farther apart than this do not stand for each other, m.
_NEAR = 0.30


def that_go_together(
    evaluator: Evaluator, proposals: list[Proposal]
) -> tuple[list[Proposal], Change, list[Proposal]]:
    """Return the proposals that can all be made at once, as one change, and those that cannot.

    First ones come first; the whole program is checked with each one more. A point that can stand
    for another one is taught once. The change is empty when there are none.
    """
    chosen: list[Proposal] = []
    left: list[Proposal] = []
    change = Change(evaluator.cell)
    for proposal in proposals:
        # A retract goes in before what leads on to the next weld.
        several = sorted([*chosen, proposal], key=lambda p: _ORDER.get(p.kind, 1))
        more = together(evaluator.cell, [p.change for p in several])
        if more is None or evaluator.harm(more) or not _all_cured(evaluator, several, more):
            left.append(proposal)
        else:
            chosen, change = [*chosen, proposal], more
    if len(chosen) > 1:
        change = taught_once(evaluator, chosen, change)
    return chosen, change, left


def best_first(advice: Sequence[Advice]) -> list[Proposal]:
    """Return the best proposal of each finding; one that cures several findings stands once."""
    chosen: list[Proposal] = []
    for one in advice:
        if one.proposals and not any(one.finding in p.cures for p in chosen):
            chosen.append(one.proposals[0])
    return chosen


def whole_program(
    evaluator: Evaluator, advice: Sequence[Advice]
) -> tuple[Proposal | None, list[Proposal]]:
    """Return the best of all advice as one proposal, and what does not go with it.

    None where fewer than two proposals go together: then there is nothing to put together.
    """
    chosen, change, left = that_go_together(evaluator, best_first(advice))
    if len(chosen) < 2:
        return None, left
    after = evaluator.full(change)
    gone = [f for p in chosen for f in p.cures]
    cures = tuple(f for f in evaluator.before.findings if f in gone)
    return (
        Proposal("together", _words(change), change, cures, evaluator.before, after,
                 (*_served(evaluator, change), *about_new_points(evaluator.cell, change))),
        left,
    )  # fmt: skip


def _all_cured(evaluator: Evaluator, proposals: Sequence[Proposal], change: Change) -> bool:
    """Tell whether all that the proposals cure one by one is cured by them as one change."""
    gone = evaluator.cured(change, evaluator.full(change))
    wanted = [f for p in proposals for f in p.cures if f.level.at_least(Level.WATCH)]
    return all(finding in gone for finding in wanted)


def taught_once(evaluator: Evaluator, chosen: Sequence[Proposal], change: Change) -> Change:
    """Return a change with fewer points to teach, where one point can stand for another.

    One that is taught already, or new too. It has to cure the same and to harm nothing, and to
    cost less time than a point counts for.
    """
    for dropped in list(change.points):
        if dropped in evaluator.cell.points:
            continue  # it is taught otherwise, and not added
        for kept in _in_its_stead(evaluator, change, dropped):
            less = _without(change, dropped, kept)
            if less is not None and _serves(evaluator, chosen, change, less):
                change = less
                break
    return change


def _in_its_stead(evaluator: Evaluator, change: Change, name: str) -> list[str]:
    """Return points near a new one, taught ones first, then the nearest."""
    cell = evaluator.cell
    taught = {
        other: point.q
        for other, point in cell.points.items()
        if point.q is not None and other not in change.points and is_air_point(cell, other)
    }
    fresh = {other: q for other, q in change.points.items() if other != name}
    found = [
        (far, other)
        for group in (taught, fresh)
        for far, other in sorted(_far(evaluator, change.points[name], group))
    ]
    return [other for far, other in found if far <= _NEAR]


def _far(
    evaluator: Evaluator, q: Array, others: Mapping[str, Array]
) -> Iterator[tuple[float, str]]:
    for other, there in others.items():
        tips = evaluator.cell.tool_poses(np.stack([q, there]))[:, :3, 3]
        yield float(np.linalg.norm(tips[1] - tips[0])), other


def _without(change: Change, dropped: str, kept: str) -> Change | None:
    """Return a change that goes to ``kept`` instead; None where a move would go nowhere.

    A move put in that would go from a point to itself is left out.
    """
    points = {name: q for name, q in change.points.items() if name != dropped}
    instead = tuple((at, _to(move, dropped, kept)) for at, move in change.instead)
    moves: list[tuple[int, Move]] = []
    program, at_point = change.cell.program, change.cell.program.start
    swapped, old_point = dict(instead), program.start
    for index in range(len(program.moves) + 1):
        for move in (_to(m, dropped, kept) for at, m in change.moves if at == index):
            if move.target != at_point:
                moves.append((index, move))
                at_point = move.target
        if index == len(program.moves):
            break
        own = swapped.get(index, program.moves[index])
        old = program.moves[index]
        if own.target == at_point and old.target != old_point:
            return None
        at_point, old_point = own.target, old.target
    return Change(change.cell, points, tuple(moves), instead)


def _to(move: Move, dropped: str, kept: str) -> Move:
    return replace(move, target=kept) if move.target == dropped else move


def _serves(evaluator: Evaluator, chosen: Sequence[Proposal], change: Change, less: Change) -> bool:
    if not evaluator.try_out(less).is_clear or evaluator.harm(less):
        return False
    after, longer = evaluator.full(less), evaluator.full(change).trajectory.duration + POINT
    return (
        after.trajectory.duration <= longer
        and runs_the_same_welds(evaluator.before, after)
        and _all_cured(evaluator, chosen, less)
    )


def _words(change: Change) -> str:
    new = len(change.points)
    moves = len(change.moves)
    other = len(change.instead)
    said = [
        f"{count} {what}{'' if count == 1 else 's'} {how}"
        for count, what, how in (
            (new, "point", "to teach"), (moves, "move", "to put in"), (other, "move", "to change")
        )
        if count
    ]  # fmt: skip
    return f"All of it as one program, in the order it has: {', '.join(said)}."


def _served(evaluator: Evaluator, change: Change) -> Iterator[str]:
    """Say which points serve several welds."""
    program = changed(evaluator.cell, change).program
    new = {m.target for _, m in (*change.moves, *change.instead)} | set(change.points)
    for name in sorted(new - weld_points(evaluator.cell) - {program.start}):
        served = _beside(program, name, weld_points(evaluator.cell))
        if len(served) > 1:
            *most, last = (f"'{one}'" for one in served)
            how = "taught once and" if name in change.points else "taught already, and"
            yield f"'{name}' is {how} serves {', '.join(most)} and {last}."


def _beside(program: Program, name: str, welds: frozenset[str]) -> list[str]:
    """Return the weld points before or behind a point, each once, in the order of the program."""
    order = [program.start, *(move.target for move in program.moves)]
    near = [
        order[k]
        for at, one in enumerate(order)
        if one == name
        for k in (at - 1, at + 1)
        if 0 <= k < len(order)
    ]
    return [one for one in dict.fromkeys(near) if one in welds]

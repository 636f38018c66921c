"""Proposals for whole air sections: planned, checked with the whole program, and put in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pathsim.advice.change import Change
from pathsim.advice.edges import Edge, EdgeProver
from pathsim.advice.lift_looks import looks_at
from pathsim.advice.roots import SPARE, Root
from pathsim.advice.section import AirSection, section_of
from pathsim.advice.section_change import section_change
from pathsim.advice.section_plan import SectionPlan, SectionPlanner
from pathsim.advice.trial import Evaluator
from pathsim.advice.way_points import in_words
from pathsim.findings import Finding
from pathsim.motion import MoveTrack
from pathsim.units import millimetres

#: So many plans are checked wholly, where the check finds what the planner does not look at.
_MOST_CHECKED = 8
#: Twice the margin is offered where it costs no more than this, s.
_WORTH = 0.3
_SAME = 1e-6


@dataclass(frozen=True, eq=False)
class Planned:
    """A section's change that harms nothing, in words; ``kind``, ``off_habit`` as of a proposal."""

    kind: str
    words: str
    change: Change
    evidence: tuple[str, ...]
    off_habit: float = 0.0


def planned(evaluator: Evaluator, track: MoveTrack) -> Iterator[Planned]:
    """Yield the cheapest way through the section of an air move, and one with twice the margin."""
    planner = _planner(evaluator, track)
    if planner is None:
        return
    first = planner.plan() or planner.grown()
    found = _without_harm(evaluator, planner, first, SPARE, np.inf)
    if found is None:
        return
    plan, change, names = found
    yield _in_words(evaluator, planner.section, plan, change, names, ())
    twice = evaluator.cell.margins.air
    if plan.spare >= twice:
        return
    more = planner.again(twice, plan.price + _WORTH)
    found = _without_harm(evaluator, planner, more, twice, plan.price + _WORTH)
    if found is not None:
        better, change, names = found
        said = f"Its joint moves keep twice the margin, {millimetres(2 * twice, 0)}."
        yield _in_words(evaluator, planner.section, better, change, names, (said,))


def can_be_planned(evaluator: Evaluator, track: MoveTrack) -> bool:
    """Tell whether there was a way to look for: both ends of the section can be left."""
    planner = _planner(evaluator, track)
    return planner is not None and bool(planner.starts) and bool(planner.ends)


def _planner(evaluator: Evaluator, track: MoveTrack) -> SectionPlanner | None:
    """Return what plans the section of a move; one for all moves of a section."""

    def make() -> Iterator[SectionPlanner]:
        cell, tracks = evaluator.cell, evaluator.before.trajectory.tracks
        looks = looks_at(evaluator, track.index)
        section = section_of(
            cell, tracks, track.index, lambda q: bool(looks.spare([Edge(q, q)])[0] >= 0)
        )
        if section is None:
            return
        qs = evaluator.before.trajectory.q
        prover = EdgeProver(cell, evaluator.session, section.speed, section.straight, track.index)
        yield SectionPlanner(cell, prover, section, (qs.min(axis=0), qs.max(axis=0)))

    of_move = evaluator.once(("planner", track.index), make)
    if not of_move:
        return None
    section = of_move[0].section
    return evaluator.once(("planner", section.first, section.last), lambda: of_move)[0]


def section_moves(evaluator: Evaluator, track: MoveTrack) -> tuple[int, int]:
    """Return first and last index of the moves that are planned with an air move."""
    planner = _planner(evaluator, track)
    if planner is None:
        return track.index, track.index
    return planner.section.first, planner.section.last


def _without_harm(
    evaluator: Evaluator,
    planner: SectionPlanner,
    plan: SectionPlan | None,
    need: float,
    below: float,
) -> tuple[SectionPlan, Change, list[str]] | None:
    """Return the first plan that the check of the whole program agrees to."""
    for _ in range(_MOST_CHECKED):
        if plan is None:
            return None
        change, names = section_change(
            evaluator.cell, planner.section, plan.start, [p.q for p in plan.points], plan.end
        )
        harm = evaluator.harm(change)
        if not harm:
            return plan, change, names
        if not _blocked(evaluator, planner, plan, change, harm):
            return None
        plan = planner.again(need, below)
    return None


def _blocked(
    evaluator: Evaluator,
    planner: SectionPlanner,
    plan: SectionPlan,
    change: Change,
    harm: list[Finding],
) -> bool:
    """Block what of a plan does harm; tell whether there was any such thing."""
    tracks = evaluator.full(change).trajectory.tracks
    nodes = [plan.start.q, *(p.q for p in plan.points), plan.end.q]
    moves, at_roots = set(), set()
    for finding in harm:
        if finding.move is None:
            continue
        ends = tracks[finding.move - 1].q[[0, -1]]
        for k in range(len(nodes) - 1):
            if np.abs(ends - np.stack(nodes[k : k + 2])).max() < _SAME:
                moves.add(k)
        if plan.start.is_taught and np.abs(ends[1] - plan.start.q).max() < _SAME:
            at_roots.add(0)
        if plan.end.is_taught and np.abs(ends[0] - plan.end.q).max() < _SAME:
            at_roots.add(-1)
    if not moves and not at_roots:
        moves = set(range(len(nodes) - 1))  # something about all of it
    planner.block(plan, sorted(moves))
    for at in sorted(at_roots):
        if not moves:
            planner.block_root(plan, at)
    return True


def _in_words(
    evaluator: Evaluator,
    section: AirSection,
    plan: SectionPlan,
    change: Change,
    names: list[str],
    evidence: tuple[str, ...],
) -> Planned:
    said, left = [], list(names)
    if plan.start.is_taught:
        said.append(f"Teach {_leg(left.pop(0), plan.start, section.start.name)}.")
    approach = (
        f"Teach {_leg(left.pop(), plan.end, section.end.name)}." if plan.end.is_taught else ""
    )
    for name, point in zip(left, plan.points, strict=False):
        said.append(f"Teach {in_words(evaluator.cell, name, point)}.")
    rest = left[len(plan.points) :]
    said += [f"Teach '{name}' by its joint values, on the way there." for name in rest]
    said += [approach, _how_to_go(plan, section)]
    kind = "via"
    if plan.start.is_taught or plan.end.is_taught:
        kind = "section" if plan.points else "legs"
        if not plan.points and not (plan.start.is_taught and plan.end.is_taught):
            kind = "retract" if plan.start.is_taught else "approach"
    ways = (plan.start.direction, plan.end.direction)
    habit = sum(way.off_habit for way in ways if way is not None)
    return Planned(kind, " ".join(filter(None, said)), change, evidence, habit)


def _leg(name: str, root: Root, weld: str) -> str:
    assert root.direction is not None  # noqa: S101 - it is taught
    return f"'{name}' {millimetres(root.length, 0)} from '{weld}', {root.direction.words}"


def _how_to_go(plan: SectionPlan, section: AirSection) -> str:
    leaves, comes = plan.start.is_taught, plan.end.is_taught
    straight = {
        (True, True): "Leave and come down in straight lines",
        (True, False): f"Leave '{section.start.name}' in a straight line",
        (False, True): f"Come to '{section.end.name}' in a straight line",
    }.get((leaves, comes))
    if straight is None:
        return "Go there and on by joint moves."
    return f"{straight}; between, go by joint moves." if plan.points else f"{straight}."

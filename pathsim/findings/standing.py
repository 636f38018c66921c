"""Doubts about how the cell stands: bodies in each other, twice at one place, touching nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pathsim.clearance.body_overlap import Overlap
from pathsim.clearance.how_it_stands import Floating, how_it_stands
from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cell, Role
from pathsim.units import millimetres

#: From here on one of two bodies must be off its place, m. Clamps bite a few mm and plates are
#: drawn over each other; nobody draws a body farther into another on purpose, but a pin.
_DEEP = 0.01
#: A pin or bolt up to so thick may stand in anything: its hole is often not drawn, m.
_PIN = 0.025
#: So many names are said.
_NAMES = 3
_HOLDERS = (Role.FIXTURE, Role.CLAMP, Role.TABLE)
_PLACED = (Role.PART, Role.FIXTURE, Role.CLAMP)


def standing(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each cause, however many bodies it shows in."""
    seen = how_it_stands(evidence.cell)
    for first, second in seen.twice:
        text = (
            f"The {first} and the {second} stand at one place: one of them is there twice, or its "
            "place is wrong."
        )
        yield Finding(Level.WATCH, FindingKind.STANDS_TWICE, text, piece=first, body=second)
    left = [one for one in seen.overlaps if not _is_pin(one[2])]
    while left:
        worst = _most_met(left)
        mine = [one for one in left if worst in one[:2]]
        left = [one for one in left if worst not in one[:2]]
        yield _overlap(evidence.cell, worst, mine)
    yield from _floating(evidence, seen.floating)


def _is_pin(found: Overlap) -> bool:
    return found.sides[1] <= _PIN


def _most_met(overlaps: Sequence[tuple[str, str, Overlap]]) -> str:
    """Return the body that most others lie in; of two that only meet each other the first."""
    names = list(dict.fromkeys(name for one in overlaps for name in one[:2]))
    return max(names, key=lambda name: sum(name in one[:2] for one in overlaps))


def _overlap(cell: Cell, name: str, overlaps: Sequence[tuple[str, str, Overlap]]) -> Finding:
    ranked = sorted(overlaps, key=lambda one: -one[2].depth)
    others = [one[1] if one[0] == name else one[0] for one in ranked]
    depth = ranked[0][2].depth
    most = "" if len(others) == 1 else "up to "
    text = f"The {name} overlaps the {listed(others)}, {most}{millimetres(depth)} deep (sampled)."
    level = Level.NOTE
    if depth > _DEEP:
        level = Level.WATCH
        text += " One of them is off its place: check place, turn and unit."
    roles = {body.name: body.role for body in cell.bodies}
    if {Role.CLAMP, Role.PART} <= {roles.get(one) for one in (name, *others)}:
        text += " A toggle clamp that presses on it needs its 'pad height'."
    return Finding(
        level, FindingKind.OVERLAP, text, piece=others[0], body=name, numbers={"depth": depth}
    )


def _floating(evidence: Evidence, groups: Sequence[Floating]) -> Iterator[Finding]:
    """One finding for all that float: mostly what carries them is off its place."""
    if not groups:
        return
    names = [name for group in groups for name in group.names]
    roles = [role for group in groups for role in group.roles]
    bodies = evidence.cell.bodies
    is_held = any(b.role in _HOLDERS and b.name not in names for b in bodies)
    is_placed = any(role in _PLACED for role in roles)
    nearest = min(groups, key=lambda group: group.gap)
    text = f"Nothing carries the {listed(names)}"
    # Each by its name: one that floats only after a change is no mere other number.
    numbers = {f"floats: {name}": 1.0 for name in names}
    if nearest.nearest is None:
        text += ": no other body is near."
    else:
        who = nearest.names[0] if len(nearest.names) == 1 else listed(nearest.names)
        text += f": from the {who} to the {nearest.nearest} there are {millimetres(nearest.gap)}."
        numbers["gap"] = nearest.gap
    level = Level.WATCH if is_held and is_placed else Level.NOTE
    if level is Level.WATCH:
        text += " Check place and unit, or add what holds it."
    yield Finding(level, FindingKind.FLOATS, text, body=names[0], numbers=numbers)


def listed(names: Sequence[str]) -> str:
    """Say some names, and how many more there are."""
    said = [*names[:_NAMES]]
    if len(names) > _NAMES:
        said.append(f"{len(names) - _NAMES} more")
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"

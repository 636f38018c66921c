"""Things that should have been measured and could not be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import PurePosixPath

import numpy as np

from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.grouping import doubtful_pairs
from pathsim.findings.kinds import FindingKind
from pathsim.model.lever import longest_levers
from pathsim.units import guaranteed_millimetres

#: A body so far beyond the arm's reach is most likely in a wrong unit or place, m.
_TOO_FAR = 2.0
#: So many parts of a file are named; the rest is counted, and stands under "Not checked" in full.
_MOST_PARTS = 6


def unchecked(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each link without a shape, and one when nothing stands in the cell."""
    for link in evidence.cell.shapeless_links:
        name = evidence.cell.link_name(link)
        name = "The arm's base" if link == 0 else name[0].upper() + name[1:]
        text = f"{name} has no shape in the arm's description: whether it hits was not checked."
        yield Finding(Level.WATCH, FindingKind.NOT_CHECKED, text)
    yield from _parts_of_files(evidence)
    if not evidence.cell.bodies:
        text = "The cell has no bodies: there was nothing to measure the arm and the torch against."
        yield Finding(Level.WATCH, FindingKind.NOT_CHECKED, text)
    if evidence.cell.approximate_links:
        links = [evidence.cell.link_name(link) for link in evidence.cell.approximate_links]
        what = links[0] if len(links) == 1 else f"{links[0]} to {links[-1]}"
        text = (
            f"Simple solids of given size stand for {what}: their clearances hold for the real "
            "castings only where these stay inside them."
        )
        yield Finding(Level.NOTE, FindingKind.APPROXIMATE_SHAPES, text)
    yield from _bodies_far_away(evidence)
    yield from _wide_intervals(evidence)


def _parts_of_files(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each file of which some parts alone are used: what uses which, and none."""
    for one in evidence.cell.assemblies:
        used = "; ".join(
            f"part '{part}' is {' and '.join(users)}" for part, users in one.parts if users
        )
        name = PurePosixPath(one.file).name
        text = f"{name}: {used}." if used else f"{name}:"
        if one.forgotten:
            is_are = "is in no body" if len(one.forgotten) == 1 else "are in no body"
            text += f" {_listed(one.forgotten)} {is_are} and not checked."
            it = "it" if len(one.forgotten) == 1 else "them"
            text += f" Give {it} a body, or name {it} under 'left out' in cell.yaml."
        if one.meant:
            text += f" Left out, as the cell says, and not checked: {_listed(one.meant)}."
        if not one.left_out:
            text += " All of its parts are used."
        level = Level.WATCH if one.forgotten else Level.NOTE
        numbers = {"left": len(one.left_out)}
        yield Finding(level, FindingKind.PARTS_LEFT_OUT, text, numbers=numbers)


def _listed(parts: Sequence[str]) -> str:
    """Name parts; of many the first and how many more."""
    shown = [f"'{part}'" for part in parts[:_MOST_PARTS]]
    more = len(parts) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def _wide_intervals(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each pair whose clearance could not be told as narrowly as others."""
    for move in evidence.moves:
        for group in doubtful_pairs(move):
            wide = [pair for pair in group if pair.clearance.is_wide]
            if not wide:
                continue
            worst = min(wide, key=lambda pair: pair.clearance.lower)
            text = (
                f"The clearance of the {worst.piece} to the {worst.body} on "
                f"{move_name(move.track)} could not be told narrowly: it is at least "
                f"{guaranteed_millimetres(worst.clearance.lower)} and may be more."
            )
            numbers = {"clearance": worst.clearance.lower}
            yield Finding(
                Level.WATCH,
                FindingKind.NOT_NARROWED,
                text,
                move.track.number,
                worst.clearance.time,
                worst.spans,
                worst.piece,
                worst.body,
                numbers,
            )


def _bodies_far_away(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each body so far away that its place or unit must be doubted."""
    cell = evidence.cell
    reach = float(longest_levers(cell)[1 if cell.arm.has_rail else 0])
    shoulder = (cell.T_world_base @ cell.arm.fixed[0])[:3, 3]
    if cell.arm.has_rail:
        reach += float(cell.axes.stroke(np.array([cell.axes.lower, cell.axes.upper]))[0])
    for body in cell.bodies:
        low, high = body.bounds
        away = float(np.linalg.norm(np.maximum(np.maximum(low - shoulder, shoulder - high), 0)))
        if away > reach + _TOO_FAR:
            text = (
                f"The {body.name} stands {away:.1f} m away, far out of the arm's reach: are its "
                "place and unit right?"
            )
            yield Finding(Level.WATCH, FindingKind.UNLIKELY_BODY, text, body=body.name)

"""Why no point in the air can cure a finding, where that is so, and what may."""

from __future__ import annotations

from collections.abc import Set

import numpy as np

from pathsim.advice.kinds import LINED_UP, NEAR
from pathsim.advice.no_point import fitting_amplitude_in_words
from pathsim.advice.trial import Evaluator
from pathsim.arm.alignment import has_spherical_wrist
from pathsim.findings import Finding
from pathsim.findings.twist import twists
from pathsim.model.multipass import Multipass
from pathsim.model.run import Run
from pathsim.motion import MoveTrack
from pathsim.units import degrees, guaranteed_millimetres, millimetres

#: What helps between the stitches of one line, whose points nobody teaches.
_BETWEEN = (
    "It is between the stitches of one line, where no point is taught. Give that line a higher "
    "'lift', or other lengths."
)

_BETWEEN_BEADS = (
    "It is between the passes of one line, where no point is taught. Give that line a higher "
    "'lift', or weld every other pass 'reversed'."
)

_IN_A_RUN = (
    "It is in a run of subprogram '{name}'. Change its lines or points by hand: they count for all "
    "of its runs."
)


def never(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> str:
    """Say why no point can cure a finding; empty when one might."""
    if finding.kind in LINED_UP and track.move.arc_on:
        return f"It is on the seam itself; no air point helps. {_at_the_weld(evaluator, track)}"
    if finding.kind not in NEAR:
        return ""
    if track.move.wants_contact:
        what = "search" if track.move.search is not None else "way at the station"
        return (
            f"It is on the {what} itself; no air point helps. Teach its points elsewhere, turn the "
            f"torch, or move what stands there.{_or_the_cable(evaluator, finding)}"
        )
    if track.move.arc_on:
        reduce = fitting_amplitude_in_words(evaluator.before, track.number)
        instead = reduce or "Change torch angle, weave or fixture."
        return (
            "It is on the seam itself; no air point helps. "
            f"{instead}{_or_the_cable(evaluator, finding)}"
        )
    if track.move.written is not None:
        run = track.move.written.outermost.said
        if isinstance(run, Run):
            return _IN_A_RUN.format(name=run.name)
        return _BETWEEN_BEADS if isinstance(run, Multipass) else _BETWEEN
    return _taught_too_near(evaluator, finding, track)


def _at_the_weld(evaluator: Evaluator, track: MoveTrack) -> str:
    """Say what may be taught otherwise at a weld's own points; it is said, and never proposed."""
    if has_spherical_wrist(evaluator.cell.arm):
        twist = next(twists(evaluator.evidence, track), None)
        if twist is not None:
            names = " and ".join(f"'{name}'" for name in twist.points)
            return f"Turn the torch {degrees(twist.angle, 0)} about its wire at {names}."
    return "Change torch angle, or the place of the part."


def _taught_too_near(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> str:
    """Say whether the pair is too near already at a weld point at the move's end."""
    pair = {(finding.piece or "", finding.body or "")}
    return _near_at_a_weld(evaluator, finding, (track.index, track.index), pair)


def blocked_at_a_weld(evaluator: Evaluator, finding: Finding, moves: tuple[int, int]) -> str:
    """Say whether anything is too near to a finding's body at a weld beside some air moves.

    ``moves``: first and last by index. To be asked where nothing served: such a weld cannot be
    come to in any way, and what else was tried is beside the point.
    """
    near = [p for k in moves for p in evaluator.before.moves[k].noteworthy]
    pairs = {(p.piece, p.body) for p in near if finding.body in (p.piece, p.body)}
    return _near_at_a_weld(evaluator, finding, moves, pairs)


def _near_at_a_weld(
    evaluator: Evaluator, finding: Finding, moves: tuple[int, int], pairs: Set[tuple[str, str]]
) -> str:
    """Say which of some pairs is too near already at the weld before or behind some moves."""
    tracks, (first, last) = evaluator.before.trajectory.tracks, moves
    ends = []
    if first > 0 and tracks[first - 1].move.at_work:
        ends.append((first, float(tracks[first].t[0]), tracks[first].start))
    if last + 1 < len(tracks) and tracks[last + 1].move.at_work:
        ends.append((last, float(tracks[last].t[-1]), tracks[last].move.target))
    for index, time, name in ends:
        for pair in evaluator.before.moves[index].noteworthy:
            if (pair.piece, pair.body) not in pairs:
                continue
            here = pair.stretch.start <= time <= pair.stretch.end
            at_end = any(np.isclose([s.start, s.end], time, atol=1e-6).any() for s in pair.spans)
            if not (here and at_end and pair.clearance.lower < pair.margin):
                continue
            if abs(pair.clearance.time - time) > 1e-6 and not pair.clearance.touches:
                continue
            near = f"touches the {pair.body}"
            if not pair.clearance.touches:
                kept = guaranteed_millimetres(pair.clearance.lower)
                asked = millimetres(pair.margin)
                near = f"is {kept} from the {pair.body}, where {asked} is asked for"
            return (
                f"Already at '{name}' the {pair.piece} {near}; no air point helps. "
                "Change the torch angle there, the clamp, or the margin."
                f"{_or_the_cable(evaluator, finding)}"
            )
    return ""


def _or_the_cable(evaluator: Evaluator, finding: Finding) -> str:
    """Say that a cable can be tied otherwise, where the finding is about one."""
    is_cable = any(cable.name == finding.piece for cable in evaluator.cell.cables)
    return " Or the cable is tied closer: then change its points or its slack." if is_cable else ""

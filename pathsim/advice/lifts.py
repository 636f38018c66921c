"""Retract and approach points: the lowest above the weld from which the air move clears."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from pathsim.advice.lift_looks import point_at, seen_short
from pathsim.advice.lift_records import (
    HIGHEST,
    STEP,
    NoLift,
    RetractCandidate,
    heights_tried,
)
from pathsim.advice.proposal import off_habit
from pathsim.advice.sites import Site, sites
from pathsim.advice.trial import Evaluator, TrialResult
from pathsim.advice.two_lifts import lifted_together
from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array
from pathsim.units import guaranteed_millimetres, millimetres

#: What is usually taught (common practice), m.
USUAL = (0.075, 0.100)
#: Where none of these clears, m, no other height is tried.
_COARSE = 4 * STEP
#: Heights, m, that have to show some hope before all are tried, where both ends are at a weld.
_PROBES = (0.05, 0.10, 0.20, 0.30, 0.40)
#: So many heights are looked at together; what stands for how one fails that was only looked at.
_AT_ONCE, _SEEN = 20, "seen too near"
#: So many heights that clear, and still do harm elsewhere, are checked wholly.
_MOST_HARM = 8


def lifts(evaluator: Evaluator, track: MoveTrack) -> Iterator[RetractCandidate | NoLift]:
    """Yield the lowest lift of each kind and direction that clears the moves it changes.

    ``track`` is the air move with the hit: it leaves a weld end or the retract point above one,
    or leads to a weld start or the approach point above one. Where it does both, and one point
    does not serve, both points are looked for together.
    """
    found, all_sites = False, list(sites(evaluator, track))
    for site in all_sites:
        for words, direction in site.directions(evaluator.cell):
            if len(all_sites) > 1 and not _is_hopeful(evaluator, site, direction):
                heights = ", ".join(millimetres(h, 0) for h in _PROBES)
                yield NoLift(f"{site.kind} alone, {words} by {heights}")
                continue
            lift = _lowest(evaluator, site, words, direction)
            found = found or isinstance(lift, RetractCandidate)
            yield lift
    if len(all_sites) > 1 and not found:
        yield from lifted_together(evaluator, all_sites)


def _is_hopeful(evaluator: Evaluator, site: Site, direction: Array) -> bool:
    short = seen_short(evaluator, site, direction, _PROBES)
    return any(
        trial is not None and trial.is_clear
        for trial in (
            _at(evaluator, site, direction, height)
            for height, is_short in zip(_PROBES, short, strict=True)
            if not is_short
        )
    )


def _lowest(
    evaluator: Evaluator, site: Site, words: str, direction: Array
) -> RetractCandidate | NoLift:
    """Try heights from the lowest up; the first that serves, with how the one below fails."""
    hopeless = _hopeless(evaluator, site, words, direction)
    if hopeless is not None:
        return hopeless
    below, harmful = "", 0
    for height, is_short in _looked_at(evaluator, site, direction, heights_tried()):
        if is_short:
            below = _SEEN
            continue
        trial = _at(evaluator, site, direction, height)
        if trial is None:
            reach = f"the arm cannot reach beyond {millimetres(height - STEP, 0)}"
            return NoLift(f"{site.kind} {words}: {reach}")
        if not trial.is_clear:
            below = why(trial)
            if site.is_at_weld and _touches_on_the_leg(trial, site):
                # A longer leg from the weld in the same direction goes over the same place.
                return NoLift(f"{site.kind} {words}: {below[:-1]} on the way there")
            continue
        harm = evaluator.harm(trial.change)
        if not harm:
            below = _told(evaluator, site, direction, height - STEP, below)
            evidence = (_step_below(below), *_usual(evaluator, site, direction))
            said = _words(site, words, direction, height, evaluator)
            return RetractCandidate(site.kind, said, (height,), trial.change, evidence,
                                    off_habit(words))  # fmt: skip
        below, harmful = f"something else gets worse: {harm[0].text}", harmful + 1
        if harmful >= _MOST_HARM:
            break
    tried = f"up to {millimetres(height, 0)}"
    below = _told(evaluator, site, direction, height, below)
    return NoLift(f"{site.kind} {words}, {tried}: {below.rstrip('.')}")


def _looked_at(
    evaluator: Evaluator, site: Site, direction: Array, heights: Sequence[float]
) -> Iterator[tuple[float, bool]]:
    """Yield heights with whether looks find them too near, some at a time."""
    for k in range(0, len(heights), _AT_ONCE):
        some = heights[k : k + _AT_ONCE]
        yield from zip(some, seen_short(evaluator, site, direction, some), strict=True)


def _told(evaluator: Evaluator, site: Site, direction: Array, height: float, below: str) -> str:
    """Say how a height fails that was only looked at: by a trial, as what is said has numbers."""
    if below != _SEEN:
        return below
    trial = _at(evaluator, site, direction, height)
    return why(trial) if trial is not None and not trial.is_clear else ""


def _hopeless(evaluator: Evaluator, site: Site, words: str, direction: Array) -> NoLift | None:
    """Say that no height clears by itself, from coarse steps alone; None where one does."""
    reason, last = "", 0.0
    heights = [float(h) for h in np.arange(1, round(HIGHEST / _COARSE) + 1) * _COARSE]
    for height, is_short in _looked_at(evaluator, site, direction, heights):
        if is_short:
            reason, last = _SEEN, height
            continue
        trial = _at(evaluator, site, direction, height)
        if trial is None:
            break
        if trial.is_clear:
            return None
        reason, last = why(trial).rstrip("."), height
        if site.is_at_weld and _touches_on_the_leg(trial, site):
            return None  # longer ones do too: few heights are left to try one by one
    if not reason:
        return None
    reason = _told(evaluator, site, direction, last, reason).rstrip(".")
    tried = f"up to {millimetres(last, 0)} in steps of {millimetres(_COARSE, 0)}"
    return NoLift(f"{site.kind} {words}, {tried}: {reason}")


def _touches_on_the_leg(trial: TrialResult, site: Site) -> bool:
    """Tell whether the straight way between weld and point touches, not another move."""
    if trial.short is None:
        return False
    asked, clearance = trial.short
    track = asked.question.track
    is_leg = {track.start, track.move.target} == {site.weld_name, site.name}
    return clearance.touches and track.move.kind is MoveKind.LINEAR and is_leg


def _at(evaluator: Evaluator, site: Site, direction: Array, height: float) -> TrialResult | None:
    """Try a point at a height; each once, though coarse steps, probes and grid share some."""
    step = round(height / STEP)
    key = ("lift", site.kind, site.name, site.index, direction.tobytes(), step)

    def tried() -> Iterator[TrialResult | None]:
        q = point_at(evaluator, site, direction, step * STEP)
        yield None if q is None else evaluator.try_out(site.change(evaluator.cell, q))

    return evaluator.once(key, tried)[0]


def _step_below(below: str) -> str:
    """Say how the next lower height fails."""
    if not below:
        return f"It is the lowest height tried, {millimetres(STEP, 0)}."
    return f"{millimetres(STEP, 0)} lower {below}"


def _usual(evaluator: Evaluator, site: Site, direction: Array) -> Iterator[str]:
    """Say what the usual heights above the weld would give."""
    for height in USUAL:
        usual = f"A {millimetres(height, 0)} {site.kind}"
        trial = _at_usual(evaluator, site, direction, height)
        if trial is None:
            yield f"{usual} is out of reach."
            continue
        yield f"{usual} keeps all margins." if trial.is_clear else f"{usual}: {why(trial)}"


def _at_usual(
    evaluator: Evaluator, site: Site, direction: Array, height: float
) -> TrialResult | None:
    if site.is_at_weld:
        return _at(evaluator, site, direction, height)
    q = site.usual(evaluator.cell, direction, height)
    return None if q is None else evaluator.try_out(site.change(evaluator.cell, q))


def why(trial: TrialResult) -> str:
    """Say in half a sentence why a trial is not clear."""
    if trial.short is None:
        return f"the move cannot be run: {trial.why_not}."
    one, clearance = trial.short
    pair = f"the {one.question.piece.name} %s the {one.question.standing.name}"
    if clearance.touches:
        return pair % "touches" + "."
    kept = guaranteed_millimetres(clearance.lower)
    return pair % "passes" + f" with {kept}, where {millimetres(one.margin)} is asked for."


def _words(site: Site, words: str, direction: Array, height: float, evaluator: Evaluator) -> str:
    place = "weld end" if site.kind == "retract" else "weld start"
    if site.is_new:
        return (
            f"Teach a point '{site.name}' {millimetres(height, 0)} {words} from the {place}, and "
            f"{'leave' if site.kind == 'retract' else 'come down'} in a straight line."
        )
    if site.is_at_weld:
        return f"Teach '{site.name}' {millimetres(height, 0)} {words} from the {place} instead."
    q = site.at(evaluator.cell, direction, height)
    assert q is not None  # noqa: S101 - it was reached a moment ago
    weld, tip = evaluator.cell.tool_poses(np.stack([site.weld, q]))[:, :3, 3]
    return (
        f"Teach '{site.name}' {millimetres(height, 0)} farther {words}, so that it is "
        f"{millimetres(float(np.linalg.norm(tip - weld)), 0)} from the {place}."
    )

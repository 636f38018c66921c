"""Retract and approach points: the lowest above the weld from which the air move clears."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from pathsim.advice.change import Change, new_name
from pathsim.advice.places import lifted, out_of_the_joint, up
from pathsim.advice.trial import Bench, Trial
from pathsim.model import Move, MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array
from pathsim.units import guaranteed_millimetres, millimetres

#: Heights tried, m: the lowest that clears on this grid is minimal to its step.
STEP, HIGHEST = 0.005, 0.40
#: What is usually taught (common practice), m.
USUAL = (0.075, 0.100)
#: Directions nearer to each other than this are one, rad.
_SAME_WAY = np.radians(5.0)
#: Speed of the straight air moves, where the program has none, m/s.
_SPEED = 0.1


@dataclass(frozen=True, eq=False)
class Lift:
    """A point at ``height`` m from ``point`` along a direction, and how it was found."""

    kind: str
    words: str
    height: float
    trial: Trial
    evidence: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class NoLift:
    """A direction in which no height clears, and why, in words."""

    words: str


@dataclass(frozen=True, eq=False)
class _Site:
    """Where a point could be put in or lifted: at ``base (axes,)``, with how to make the change."""

    kind: str
    base: Array
    name: str
    is_new: bool
    index: int
    speed: float
    air: Move | None = None

    def change(self, q: Array) -> Change:
        """Return the change that puts the point at ``q``."""
        if not self.is_new:
            return Change({self.name: q})
        if self.kind == "retract":
            leaves = Move(MoveKind.LINEAR, self.name, self.speed)
            return Change({self.name: q}, ((self.index, leaves),))
        assert self.air is not None  # noqa: S101 - a new approach point splits an air move
        there = replace(self.air, target=self.name, rounding=0.0, wait=0.0, line=None)
        down = Move(MoveKind.LINEAR, self.air.target, self.speed, wait=self.air.wait)
        return Change({self.name: q}, ((self.index, there),), ((self.index, down),))


def lifts(bench: Bench, track: MoveTrack) -> Iterator[Lift | NoLift]:
    """Yield the lowest lift of each kind and direction that clears the moves it changes.

    ``track`` is the air move with the hit: it leaves a weld end or the retract point above one,
    or leads to a weld start or the approach point above one.
    """
    for site in _sites(bench, track):
        directions = [("straight up", up())]
        back = out_of_the_joint(bench.cell, site.base)
        if np.arccos(np.clip(back @ up(), -1, 1)) > _SAME_WAY:
            directions.append(("back along the wire", back))
        for words, direction in directions:
            yield _lowest(bench, site, words, direction)


def _sites(bench: Bench, track: MoveTrack) -> Iterator[_Site]:
    """Say where a lift may help the move: behind the seam before it, before the seam behind it."""
    tracks, cell = bench.before.trajectory.tracks, bench.cell
    straight = [t.move.speed for t in tracks if t.move.kind is not MoveKind.JOINT
                and not t.move.arc_on]  # fmt: skip
    speed = straight[-1] if straight else _SPEED
    before = tracks[track.index - 1] if track.index > 0 else None
    if before is not None and track.continuous:
        if before.move.arc_on:
            name = new_name(cell, "retract")
            yield _Site("retract", track.q[0], name, True, track.index, speed)
        elif is_air_point(bench, before.move.target) and _follows_seam(tracks, before):
            yield _Site("retract", track.q[0], before.move.target, False, track.index, speed)
    behind = tracks[track.index + 1] if track.index + 1 < len(tracks) else None
    if behind is None:
        return
    if behind.move.arc_on and track.move.kind is MoveKind.JOINT:
        name = new_name(cell, "approach")
        yield _Site("approach", track.q[-1], name, True, track.index, speed, track.move)
    elif is_air_point(bench, track.move.target) and _leads_to_seam(tracks, behind):
        yield _Site("approach", track.q[-1], track.move.target, False, track.index, speed)


def is_air_point(bench: Bench, name: str) -> bool:
    """Tell whether a point is used in the air only, so that a seam stays what it is."""
    tracks = bench.before.trajectory.tracks
    welded = {t.move.target for t in tracks if t.move.arc_on} | {
        t.start for t in tracks if t.move.arc_on
    }
    via = {t.move.via for t in tracks}
    return name not in welded and name not in via and name != bench.cell.program.start


def _follows_seam(tracks: tuple[MoveTrack, ...], track: MoveTrack) -> bool:
    straight = track.move.kind is not MoveKind.JOINT
    return track.index > 0 and straight and tracks[track.index - 1].move.arc_on


def _leads_to_seam(tracks: tuple[MoveTrack, ...], track: MoveTrack) -> bool:
    straight = track.move.kind is not MoveKind.JOINT and not track.move.arc_on
    return straight and track.index + 1 < len(tracks) and tracks[track.index + 1].move.arc_on


def _lowest(bench: Bench, site: _Site, words: str, direction: Array) -> Lift | NoLift:
    """Try heights from the lowest up; the first that clears, with how the one below fails."""
    below: Trial | None = None
    for height in np.arange(1, round(HIGHEST / STEP) + 1) * STEP:
        trial = _at(bench, site, direction, float(height))
        if trial is None:
            return NoLift(f"{words} the arm cannot reach beyond {millimetres(float(height), 0)}")
        if trial.is_clear:
            evidence = _evidence(bench, site, direction, below)
            said = _words(site, words, float(height))
            return Lift(site.kind, said, float(height), trial, evidence)
        if _touches_on_the_way_up(trial):
            # A longer straight leg goes over the same place.
            return NoLift(f"{words} {why(trial)[:-1]} on the way there")
        below = trial
    assert below is not None  # noqa: S101 - at least one height was tried
    return NoLift(f"{words}, up to {millimetres(HIGHEST, 0)}, {why(below)[:-1]}")


def _touches_on_the_way_up(trial: Trial) -> bool:
    if trial.short is None:
        return False
    asked, clearance = trial.short
    return clearance.touches and asked.question.track.move.kind is not MoveKind.JOINT


def _at(bench: Bench, site: _Site, direction: Array, height: float) -> Trial | None:
    q = lifted(bench.cell, site.base, direction, height)
    if q is None:
        return None
    return bench.try_out(site.change(q))


def _evidence(bench: Bench, site: _Site, direction: Array, below: Trial | None) -> tuple[str, ...]:
    """Say how the next lower height fails, and what the usual heights would give."""
    said = []
    if below is None:
        said.append(f"It is the lowest height tried, {millimetres(STEP, 0)}.")
    else:
        said.append(f"{millimetres(STEP, 0)} lower {why(below)}")
    for usual in USUAL:
        trial = _at(bench, site, direction, usual)
        if trial is None:
            said.append(f"At the usual {millimetres(usual, 0)} the arm cannot reach the point.")
        elif trial.is_clear:
            kept = guaranteed_millimetres(min(trial.clearance, bench.before.cap))
            said.append(f"At the usual {millimetres(usual, 0)} it clears by {kept}.")
        else:
            said.append(f"At the usual {millimetres(usual, 0)} {why(trial)}")
    return tuple(said)


def why(trial: Trial) -> str:
    """Say in half a sentence why a trial is not clear."""
    if trial.short is None:
        return f"the move cannot be run: {trial.why_not}."
    one, clearance = trial.short
    pair = f"the {one.question.piece.name} %s the {one.question.standing.name}"
    if clearance.touches:
        return pair % "touches" + "."
    kept = guaranteed_millimetres(clearance.lower)
    return pair % "passes" + f" with {kept}, where {millimetres(one.margin)} is asked for."


def _words(site: _Site, words: str, height: float) -> str:
    place = "weld end" if site.kind == "retract" else "weld start"
    if site.is_new:
        return (
            f"Teach a point '{site.name}' {millimetres(height, 0)} {words} from the {place}, and "
            f"{'leave' if site.kind == 'retract' else 'come down'} in a straight line."
        )
    return f"Teach '{site.name}' {millimetres(height, 0)} farther {words}."

"""Which turn of the torch about its own wire takes an aligned wrist out of line.

A turn about the wire leaves the weld as it is, and is the cheapest cure for an aligned wrist when
the torch is bent. What the check says and what advice proposes come from here: the program is laid
with the points turned, and every move that changes is measured.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from pathsim.arm.alignment import wrist_angle, wrist_joints
from pathsim.arm.inverse import branch_of, closed_form
from pathsim.clearance import PairClearance, Span
from pathsim.findings.finding import Evidence
from pathsim.findings.near_intervals import fastest_joint, looks
from pathsim.findings.places import joints_at
from pathsim.findings.weld_places import is_air_point
from pathsim.findings.what_if import cannot_run, goes_like, laid_with, measured, shortfall
from pathsim.model import Cell, MoveKind
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import Array, inverse, pose, rotation_about

#: Nearer to alignment than this is worth a finding, rad. Common practice says 5 to 10
#: degrees; no authority was found, so the joint speed it costs is always said beside it.
ZONE = np.radians(5.0)
#: Turns tried, smallest first, rad: the first that serves is the smallest to this step.
TWISTS = np.radians(np.arange(2.0, 46.0, 2.0))
_LOOKS = 40
#: How far a first look may be off what is then laid, rad.
_FIRST_LOOK = np.radians(1.0)
#: So many turns that a first look lets pass are laid and measured.
_MOST_LAID = 12


@dataclass(frozen=True, eq=False)
class Twist:
    """The torch turned by ``angle`` rad about its wire at taught points, axes ``(axes,)`` by name.

    ``alignment``: how far the wrist then stays out of line on the move, rad; ``joint`` of the wrist
    needs the largest ``share`` of its speed.
    """

    angle: float
    points: Mapping[str, Array]
    alignment: float
    joint: int
    share: float


def air_ends(cell: Cell, track: MoveTrack) -> list[tuple[str, Array]]:
    """Return names and axes of a move's ends that are air points, so that no seam changes."""
    ends = [(track.move.target, track.q[-1])]
    if track.continuous:
        ends.append((track.start, track.q[0]))
    return [(name, q) for name, q in ends if is_air_point(cell, name)]


def twists(evidence: Evidence, track: MoveTrack) -> Iterator[Twist]:
    """Yield turns that take a move out of the wrist's zone and keep all margins, smallest first.

    At one of the air ends of an air move, or at both; of a seam at all of its own points at once,
    with approach and retract.
    """
    if evidence.engine is None:
        return
    laid = 0
    for size in TWISTS:
        for names in points_to_turn(evidence, track):
            for angle in (float(size), -float(size)):
                if not _is_promising(evidence.cell, track, tuple(names), angle):
                    continue
                twist = _laid(evidence, track, names, angle)
                if twist is not None:
                    yield twist
                laid += 1
                if laid >= _MOST_LAID:
                    return


def points_to_turn(evidence: Evidence, track: MoveTrack) -> list[dict[str, Array]]:
    """Return the sets of points to turn together, with their axes.

    Of a seam its own points with those of the straight legs in and out, so that the torch does not
    turn on the legs; or, where that does not serve, its own points alone.
    """
    cell = evidence.cell
    if not track.move.arc_on:
        ends = air_ends(cell, track)
        # Both together where either alone does not serve: the torch then stands turned all along.
        return [*({name: q} for name, q in ends), *([dict(ends)] if len(ends) > 1 else [])]
    if track.fault is not None or not track.continuous:
        return []
    points = {track.start: track.q[0], track.move.target: track.q[-1]}
    if track.move.via is not None:
        via = cell.points[track.move.via].q
        if via is None:
            return []
        points[track.move.via] = via
    legs = _legs(evidence, track)
    return [{**legs, **points}, points] if legs else [points]


def _legs(evidence: Evidence, track: MoveTrack) -> dict[str, Array]:
    """Return the air points at the far ends of the straight legs to and from a seam, with axes."""
    tracks, found = evidence.trajectory.tracks, {}
    if track.index > 0:
        leg = tracks[track.index - 1]
        if _is_leg(leg) and is_air_point(evidence.cell, leg.start):
            found[leg.start] = leg.q[0]
    if track.index + 1 < len(tracks):
        leg = tracks[track.index + 1]
        if _is_leg(leg) and is_air_point(evidence.cell, leg.move.target):
            found[leg.move.target] = leg.q[-1]
    return found


def _is_leg(track: MoveTrack) -> bool:
    move = track.move
    return (
        move.kind is MoveKind.LINEAR and not move.arc_on and track.continuous and len(track.t) > 1
    )


def _is_promising(cell: Cell, track: MoveTrack, names: tuple[str, ...], angle: float) -> bool:
    """Look at some places of a move, the turn growing evenly along it; cheap, and near enough."""
    arm, solver = cell.arm, closed_form(cell.arm)
    if solver is None or track.fault is not None or len(track.t) < 2:
        return True
    times = np.linspace(track.t[0], track.t[-1], _LOOKS)
    q = track.q_at(times)[:, : arm.dof]
    tips = np.linalg.norm(np.diff(cell.tips(track.q_at(times)), axis=0), axis=1)
    share = np.concatenate([[0.0], np.cumsum(tips)]) / max(float(tips.sum()), 1e-12)
    at_start, at_end = track.start in names, track.move.target in names
    part = at_start * (1 - share) + at_end * share
    X = cell.torch.T_flange_tcp
    twist = X @ pose(rotation_about([0.0, 0.0, 1.0], angle * part), np.zeros(3)) @ inverse(X)
    found, exists = solver.solve(arm.pose(q) @ twist, q[:, 0], (branch_of(solver, q[0]),))
    return bool(exists.all() and wrist_angle(arm, found[:, 0]).min() > ZONE - _FIRST_LOOK)


def _laid(
    evidence: Evidence, track: MoveTrack, names: Mapping[str, Array], angle: float
) -> Twist | None:
    """Lay and measure the program with points turned; None where that does not serve."""
    cell = evidence.cell
    turn = pose(rotation_about([0.0, 0.0, 1.0], angle), np.zeros(3))
    points: dict[str, Array] = {}
    for name, q in names.items():
        turned = joints_at(cell, cell.tool_poses(q[None])[0] @ turn, q)
        if turned is None:
            return None
        points[name] = turned
    after = laid_with(evidence, points)
    if after is None:
        return None
    old, new = track, after.tracks[track.index]
    alignment = nearest_alignment(cell, new)
    joint, share = wrist_need(cell, new)
    if alignment <= ZONE or (old.fault is None and share > wrist_need(cell, old)[1]):
        return None
    if not _does_no_harm(evidence, track, after):
        return None
    return Twist(angle, points, alignment, joint, share)


def _does_no_harm(evidence: Evidence, track: MoveTrack, after: Trajectory) -> bool:
    """Tell whether all moves that change can be run, stay out of line and keep their margins."""
    cell, engine = evidence.cell, evidence.engine
    assert engine is not None  # noqa: S101 - asked before
    before = evidence.trajectory.tracks
    new = [t for t in after.tracks if not goes_like(t, before[t.index])]
    for one in new:
        if cannot_run(cell, one) or (one.move.arc_on and not track.move.arc_on):
            return False
        if one.move.kind is MoveKind.JOINT or nearest_alignment(cell, one) > ZONE:
            continue
        if nearest_alignment(cell, before[one.index]) > ZONE:
            return False
    short = [pair.margin - pair.clearance.lower for t in new for pair in _measured(evidence, t)]
    return shortfall(measured(evidence, engine, after, new)) <= max([0.0, *short])


def _measured(evidence: Evidence, track: MoveTrack) -> tuple[PairClearance, ...]:
    return evidence.moves[track.index].noteworthy if evidence.moves else ()


def nearest_alignment(cell: Cell, track: MoveTrack) -> float:
    """How near joints 4 and 6 come to one line on a move, rad."""
    return float(wrist_angle(cell.arm, track.q_at(looks(track))[:, : cell.arm.dof]).min())


def wrist_need(cell: Cell, track: MoveTrack) -> tuple[int, float]:
    """Return the wrist joint that needs the largest share of its speed on a move, and the share."""
    whole = (Span(float(track.t[0]), float(track.t[-1])),)
    return fastest_joint(track, whole, wrist_joints(cell.arm))

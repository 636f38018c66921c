"""Why a joint move meets something, in numbers that were worked out and not supposed.

That it does not travel straight is its cause only where a straight move would have cleared: that
one is laid between the same two ends and measured for the same pair.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from weakref import WeakKeyDictionary

import numpy as np

from pathsim.clearance import PairClearance
from pathsim.clearance.contact_rules import largest_own_margin
from pathsim.clearance.obstacle import Obstacle, obstacles
from pathsim.findings.finding import Evidence, Straight
from pathsim.findings.what_if import Measured, bounds_of_each, cannot_run, straight_between
from pathsim.geometry.rays import PARALLEL
from pathsim.model import Cell, MoveKind
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import Array, apply
from pathsim.units import guaranteed_millimetres, millimetres

#: A smaller detour does not explain anything, m.
_WORTH_SAYING = 0.005
#: Flatter than this is sideways, steeper than the other is up or down, rad.
_FLAT, _STEEP = np.radians(30.0), np.radians(60.0)
#: What lies deeper under the tip is not said to be under it; nearer than the other is on it, m.
_DEEP, _ON_IT = 0.5, 0.001
#: A tip is not beside a triangle by less, m.
_HARDLY = 1e-6


def straight_instead(evidence: Evidence, track: MoveTrack) -> Straight | None:
    """Measure a straight move between the ends of a joint move, once for all that ask.

    None for other moves, and where nothing can be known of it. All moves that will be asked about
    are measured with the first, which is one question to the engine and not one for each.
    """
    if track.move.kind is not MoveKind.JOINT:
        return None
    if track.number not in evidence.straights:
        others = (move.track for move in evidence.moves if move.doubtful)
        joint = (one for one in others if one.move.kind is MoveKind.JOINT)
        tracks = {one.number: one for one in (track, *joint)}
        evidence.straights.update(_straights(evidence, tracks))
    return evidence.straights[track.number]


def _straights(evidence: Evidence, tracks: Mapping[int, MoveTrack]) -> dict[int, Straight | None]:
    """Lay and measure a straight move for each of some joint moves, by number."""
    found: dict[int, Straight | None] = dict.fromkeys(tracks)
    engine = evidence.engine
    laid: dict[int, tuple[Trajectory, list[MoveTrack]]] = {}
    for number, track in tracks.items():
        if engine is None or track.fault is not None:
            continue
        straight = straight_between(evidence, track)
        if straight is None:
            continue
        why_not = cannot_run(evidence.cell, straight)
        if why_not:
            found[number] = Straight(why_not)
            continue
        instead = list(evidence.trajectory.tracks)
        instead[track.index] = straight
        laid[number] = Trajectory(tuple(instead)), [straight]
    if engine is not None:
        scene = bounds_of_each(evidence, engine, list(laid.values()), arm_too=False)
        most = largest_own_margin(evidence.cell)
        settled = {n: one for n, one in zip(laid, scene, strict=True) if _is_settled(one, most)}
        left = [number for number in laid if number not in settled]
        each = bounds_of_each(evidence, engine, [laid[number] for number in left])
        for number, measured in (*settled.items(), *zip(left, each, strict=True)):
            found[number] = _worst(measured)
    return found


def _is_settled(one: Measured, largest_own: float) -> bool:
    """Tell whether something is touched that no pair of the arm's own can be worse than.

    ``largest_own``: no margin of the arm against itself is larger, m. What touches is as far below
    its margin as that is wide.
    """
    return bool((one.found.touches & (one.margins > largest_own)).any())


def _worst(one: Measured) -> Straight | None:
    """Say which pair is the worst on a straight move; None where nothing has a shape."""
    found, margins = one.found, one.margins
    # The arm against itself is only told apart where it gets narrow: no distance to speak of.
    said = np.flatnonzero(~one.on_arm | (found.lower < margins))
    if not len(said):  # nothing has a shape: a contact cannot have been found either
        return None
    spare, touches = found.lower - margins, found.touches
    worst = said[np.lexsort((found.upper[said], spare[said], ~touches[said]))[0]]
    piece, standing = one.pairs[one.pair[worst]]
    lower = 0.0 if touches[worst] else float(found.lower[worst])
    return Straight("", piece.name, standing.name, lower, float(margins[worst]))


def cause(cell: Cell, track: MoveTrack, pair: PairClearance, straight: Straight | None) -> str:
    """Say why a joint move touches something; empty for other moves. Begins with a space."""
    if track.move.kind is not MoveKind.JOINT or pair.stretch.corner:
        return ""
    return "".join(f" {sentence}" for sentence in why_it_meets(cell, track, pair, straight))


def why_it_meets(
    cell: Cell, track: MoveTrack, pair: PairClearance, straight: Straight | None
) -> list[str]:
    """Return the cause of a joint move's contact or near-hit, one idea a sentence."""
    touched = pair.clearance.touches
    if straight is not None and straight.serves(touched=touched):
        said = []
        if track.detour >= _WORTH_SAYING:
            off = millimetres(track.detour, 0)
            said.append(
                f"A joint move does not travel straight: the tip leaves the straight line by up to "
                f"{off}."
            )
        kept = guaranteed_millimetres(straight.lower)
        said.append(
            f"A straight move would clear: {kept} guaranteed, margin "
            f"{millimetres(straight.margin)} ({straight.piece} to {straight.body})."
        )
        return said
    said = how_it_goes(cell, track, pair)
    if straight is not None and straight.why_not:
        said.append(f"A straight move cannot be run instead: {straight.why_not}.")
    elif straight is not None:
        does = "touch" if straight.lower <= 0 else "come too near"
        too = " too" if touched or straight.lower > 0 else ""
        said.append(f"A straight move would {does}{too}: {straight.piece} and {straight.body}.")
    return said


def how_it_goes(cell: Cell, track: MoveTrack, pair: PairClearance) -> list[str]:
    """Say how the tip leaves a joint move's end, or comes to it, and how high the obstacle is.

    Seen in the world. Empty for what the arm itself carries, and where the tip does not move.
    """
    things = obstacles(cell)
    thing = next((t for t in things if t.name == pair.body), None)
    if thing is None or pair.clearance.on_moving is None:
        return []
    q = track.q_at(pair.clearance.time)[0]
    tips = cell.tips(np.stack([track.q[0], q, track.q[-1]]))
    ways = np.linalg.norm(tips[[0, 2]] - tips[1], axis=1)
    leaves = bool(ways[0] <= ways[1])
    end, name = (tips[0], track.start) if leaves else (tips[2], track.move.target)
    q_end = track.q[0] if leaves else track.q[-1]
    way = tips[1] - end
    along, up = float(np.hypot(*way[:2])), float(way[2])
    verb = "leaves" if leaves else "comes to"
    when = "by then" if leaves else "from there"
    if max(along, abs(up)) < _ON_IT:
        said = [f"It does so at '{name}' already."]
    else:
        place = f"'{name}'{_above(cell, things, q_end, end)}"
        said = [f"The tip {verb} {place} {_direction(along, up, leaves)}: "
                f"{millimetres(along, 0)} along and {_rise(up, leaves)} {when}."]  # fmt: skip
    low, top = _heights(cell, thing, q)
    size, over = millimetres(top - low, 0), top - float(end[2])
    side = "above" if over > 0 else "below"
    said.append(
        f"The {pair.body} is {size} high, its top {millimetres(abs(over), 0)} {side} '{name}'."
    )
    under = float(tips[1][2] - pair.clearance.on_moving[2])
    if over <= 0 and under > _ON_IT:
        said.append(f"The {pair.piece} meets it {millimetres(under, 0)} lower than the tip.")
    return said


def _direction(along: float, up: float, leaves: bool) -> str:
    slope = float(np.arctan2(abs(up), along))
    if slope < _FLAT:
        return "sideways"
    is_up = (up > 0) == leaves
    way = "up" if is_up else "down"
    return f"straight {way}" if slope > _STEEP else f"slanting {way}"


def _rise(up: float, leaves: bool) -> str:
    """Say how far the tip rises or falls along its way."""
    is_up = (up >= 0) == leaves
    return f"{millimetres(abs(up), 0)} {'up' if is_up else 'down'}"


#: What was said of the tip in a posture: each point of a program is the end of two moves, and of
#: all that they touch.
_SAID: WeakKeyDictionary[Cell, dict[bytes, str]] = WeakKeyDictionary()


def _above(cell: Cell, things: Sequence[Obstacle], q: Array, tip: Array) -> str:
    """Say how high a tip is above the body under it; empty where it is on one or far above all."""
    said, posture = _SAID.setdefault(cell, {}), q.tobytes()
    if posture not in said:
        said[posture] = _above_now(cell, things, q, tip)
    return said[posture]


def _above_now(cell: Cell, things: Sequence[Obstacle], q: Array, tip: Array) -> str:
    best, under = _DEEP, ""
    if not things:
        return ""
    low, high = _boxes(cell, things, q)
    beside = (tip[:2] < low[:, :2]).any(axis=1) | (tip[:2] > high[:, :2]).any(axis=1)
    for k in np.flatnonzero(~beside & (low[:, 2] <= tip[2] + _ON_IT)).tolist():
        top = _top_under(_placed(cell, things[k], q), tip)
        if top is not None and float(tip[2]) - top < best:
            best, under = float(tip[2]) - top, things[k].name
    return f", {millimetres(best, 0)} above the {under}," if under and best > _ON_IT else ""


def _boxes(cell: Cell, things: Sequence[Obstacle], q: Array) -> tuple[Array, Array]:
    """Return AABBs ``(n, 3)`` round things' boxes where they stand at axes ``q``: low, high."""
    boxes = np.array([thing.box for thing in things])
    for frame in cell.frames[1:]:
        carried = [k for k, thing in enumerate(things) if thing.stands_on is frame]
        T = cell.frame_motion(frame, q[None])[0]
        for k in carried:
            corners = apply(T @ things[k].T_ref_mesh, things[k].source.corners)
            boxes[k] = corners.min(axis=0), corners.max(axis=0)
    return boxes[:, 0], boxes[:, 1]


def _placed(cell: Cell, thing: Obstacle, q: Array) -> tuple[Array, np.ndarray]:
    """Vertices ``(v, 3)`` and faces ``(f, 3)`` of a thing where it stands at axes ``q``."""
    vertices = thing.mesh.vertices
    if thing.stands_on.is_carried:
        vertices = apply(cell.frame_motion(thing.stands_on, q[None])[0], vertices)
    return vertices, thing.mesh.faces


def _heights(cell: Cell, thing: Obstacle, q: Array) -> tuple[float, float]:
    if not thing.stands_on.is_carried:
        return thing.heights
    z = _placed(cell, thing, q)[0][:, 2]
    return float(z.min()), float(z.max())


def _top_under(mesh: tuple[Array, np.ndarray], tip: Array) -> float | None:
    """Height of the highest surface straight under a tip ``(3,)``, m; None where there is none."""
    vertices, faces = mesh
    # On which sides of the tip each corner is, a bit each: what has all three on one is beside it.
    x, y = vertices[:, 0] - tip[0], vertices[:, 1] - tip[1]
    sides = (x < -_HARDLY) | (x > _HARDLY) * np.uint8(2)
    sides |= (y < -_HARDLY) * np.uint8(4) | (y > _HARDLY) * np.uint8(8)
    first, second, third = faces.T
    beside = sides[first] & sides[second] & sides[third]
    a, b, c = np.moveaxis(vertices[faces[beside == 0]], 1, 0)
    e1, e2, to = (b - a)[:, :2], (c - a)[:, :2], tip[:2] - a[:, :2]
    det = e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0]
    safe = np.where(np.abs(det) < PARALLEL, np.inf, det)
    u = (to[:, 0] * e2[:, 1] - to[:, 1] * e2[:, 0]) / safe
    v = (e1[:, 0] * to[:, 1] - e1[:, 1] * to[:, 0]) / safe
    hit = np.isfinite(safe) & (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9)
    z = a[:, 2] + u * (b - a)[:, 2] + v * (c - a)[:, 2]
    under = z[hit & (z <= tip[2] + _ON_IT)]
    return float(under.max()) if len(under) else None

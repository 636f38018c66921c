"""How the bodies of a cell stand: which lie in each other, stand twice, or touch nothing.

Bodies on the turning table are also measured against what stands round it, once, with the table
at zero.
"""

from __future__ import annotations

import itertools
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.clearance.body_overlap import (
    Overlap,
    Placed,
    deepest_possible,
    gap_of,
    overlap_of,
    share_taken,
)
from pathsim.clearance.contact_rules import are_joined, axes_between, is_pair_moved, table_pairs
from pathsim.clearance.engine import Engine, Pair, PairQuery, Span
from pathsim.clearance.obstacle import ARM_BASE, Obstacle, obstacles
from pathsim.clearance.records import Clearance
from pathsim.model import Cell, Piece, Role
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import Array

#: Overlaps up to this are left alone, m: clamps bite and plates are drawn over each other so far.
SHALLOW = 5e-3
#: A gap up to this counts as touching, m: shims, gaskets and gaps for the weld are seldom drawn.
TOUCHING = 5e-3
#: As near to the lowest place of the cell counts as standing on the floor, m: what has feet of its
#: own may stand on plates or screws that are not drawn, parts and clamps may not.
_FLOOR, _FEET = 0.01, 0.05
#: Two bodies stand at one place when sizes differ by at most this share, m and share.
_SAME_SIZE, _SAME_SIZE_SHARE = 1e-3, 0.02
#: ... when they are moved against each other by less than this share of each side ...
_SAME_PLACE = 0.5
#: ... and when at least this share of the one's surface lies in or on the other.
_TAKEN = 0.3
#: Gaps are told up to here, m.
_TOLD = (0.02, 0.1, 0.3)
_MOST_KEPT = 8
#: Axes of a table nearer to zero than this stand at zero, rad.
_ZERO = 1e-9


@dataclass(frozen=True)
class Floating:
    """Bodies that touch each other and nothing else.

    ``nearest``: the name of what is nearest to any of them, at ``gap`` m; None where nothing is
    within ``_TOLD``.
    """

    names: tuple[str, ...]
    roles: tuple[Role | None, ...]
    nearest: str | None
    gap: float


@dataclass(frozen=True)
class HowItStands:
    """What is strange about how bodies stand, by their names."""

    twice: tuple[tuple[str, str], ...]
    overlaps: tuple[tuple[str, str, Overlap], ...]
    floating: tuple[Floating, ...]


_kept: OrderedDict[tuple[object, ...], HowItStands] = OrderedDict()


def how_it_stands(cell: Cell) -> HowItStands:
    """Return how a cell's bodies and the arm's base stand; worked out once for each set of them."""
    placed = [
        Placed(b.name, b.role, b.mesh, b.T_world_body, b.stands_on, b.bears) for b in cell.bodies
    ]
    base = cell.link_meshes[0]
    if base is not None:
        placed.append(Placed(ARM_BASE, None, base, cell.T_world_base))
    key = tuple(
        (p.name, p.role, p.mesh.digest, p.T_world_body.tobytes(), p.stands_on, p.bears)
        for p in placed
    )
    if key not in _kept:
        _kept[key] = _looked_at(placed)
        while len(_kept) > _MOST_KEPT:
            _kept.popitem(last=False)
    return _kept[key]


def _looked_at(placed: Sequence[Placed]) -> HowItStands:
    twice, overlaps = [], []
    for first, second in itertools.combinations(placed, 2):
        if deepest_possible(first, second) <= SHALLOW and not _same_box(first, second):
            continue
        if _same_box(first, second) and share_taken(first, second) >= _TAKEN:
            twice.append((first.name, second.name))
            continue
        found = overlap_of(first, second)
        if found.depth > SHALLOW:
            overlaps.append((first.name, second.name, found))
    return HowItStands(tuple(twice), tuple(overlaps), tuple(_floating(placed)))


def _same_box(first: Placed, second: Placed) -> bool:
    """Tell whether two bodies have one size, and nearly one place."""
    size = np.maximum(first.size, second.size)
    allowed = np.maximum(_SAME_SIZE, _SAME_SIZE_SHARE * size)
    moved = np.abs(first.bounds.mean(axis=0) - second.bounds.mean(axis=0))
    is_there = moved <= np.maximum(_SAME_PLACE * np.minimum(first.size, second.size), _SAME_SIZE)
    return bool((np.abs(first.size - second.size) <= allowed).all() and is_there.all())


def _floating(placed: Sequence[Placed]) -> list[Floating]:
    """Return the groups that touch neither the floor nor what may hang on something unseen."""
    if not placed:
        return []
    group = list(range(len(placed)))

    def root(k: int) -> int:
        while group[k] != k:
            k = group[k]
        return k

    floor = min(float(p.bounds[0, 2]) for p in placed)
    held = [k for k, p in enumerate(placed) if _is_held(p, floor)]
    for k in held[1:]:
        group[k] = held[0]
    pairs = list(itertools.combinations(range(len(placed)), 2))
    # Few triangles first: most pairs behind are of one group already.
    pairs.sort(key=lambda ij: len(placed[ij[0]].mesh.faces) + len(placed[ij[1]].mesh.faces))
    for i, j in pairs:
        a, b = root(i), root(j)
        if a != b and gap_of(placed[i], placed[j], TOUCHING) <= TOUCHING:
            group[max(a, b)] = min(a, b)
    home = root(held[0]) if held else -1
    groups: dict[int, list[int]] = {}
    for k in range(len(placed)):
        if root(k) != home:
            groups.setdefault(root(k), []).append(k)
    return [_floating_group(placed, members) for members in groups.values()]


def _is_held(body: Placed, floor: float) -> bool:
    """Tell whether a body is taken as standing on, or hanging from, what the cell does not name."""
    is_carried = body.stands_on.is_carried
    is_ground = body.role is Role.TABLE and not is_carried
    is_ground |= body.bears is not None or body.name == ARM_BASE
    feet = _FLOOR if body.role in (Role.PART, Role.CLAMP) or is_carried else _FEET
    return is_ground or float(body.bounds[0, 2]) <= floor + feet


def _floating_group(placed: Sequence[Placed], members: list[int]) -> Floating:
    names, roles = zip(*((placed[k].name, placed[k].role) for k in members), strict=True)
    others = [p for k, p in enumerate(placed) if k not in members]
    for most in _TOLD:
        gaps = [(gap_of(placed[k], other, most), other.name) for k in members for other in others]
        gap, nearest = min(gaps, default=(np.inf, ""))
        if np.isfinite(gap):
            return Floating(names, roles, nearest, float(gap))
    return Floating(names, roles, None, np.inf)


def table_at_zero(
    cell: Cell, trajectory: Trajectory, engine: Engine
) -> list[tuple[Pair, Clearance]]:
    """Return how near what is on the table stands to all else, with the table at zero.

    Bodies are placed as they stand then; beads come to stand later. Nothing is asked of two where
    a move that turns the one past the other goes through zero: they are measured there. What rests
    on its stand is measured at its joint (``joint_pairs.py``).
    """
    if cell.table is None or not trajectory.tracks:
        return []
    pairs = [
        (piece, thing)
        for piece, thing in table_pairs(cell, obstacles(cell))
        if not (thing.stands_from or (piece.body is not None and piece.body.stands_from))
        and not are_joined(piece, thing)
        and not _is_measured(cell, trajectory, piece, thing)
    ]
    if not pairs:
        return []
    first = trajectory.tracks[0]
    q = np.repeat(first.q[:1], 2, axis=0)
    q[:, cell.arm.dof :] = 0.0
    speed_ratio = np.zeros((1, q.shape[1]))
    track = MoveTrack(0, first.move, first.start, np.array([0.0, 1.0]), q, speed_ratio, 1.0)
    window = Span(0.0, 1.0)
    found = engine.min_distance([PairQuery(track, *pair, window) for pair in pairs])
    return list(zip(pairs, found, strict=True))


def _is_measured(cell: Cell, trajectory: Trajectory, piece: Piece, thing: Obstacle) -> bool:
    """Tell whether a move measures the two with all axes between them at zero.

    At one knot, or, of a single axis, on the way from one to the next.
    """
    columns = axes_between(cell, piece, thing)
    return any(
        is_pair_moved(cell, track, piece, thing) and _meets_zero(track.q[:, columns])
        for track in trajectory.tracks
    )


def _meets_zero(values: Array) -> bool:
    if values.shape[1] == 1:
        return bool(values.min() <= 0 <= values.max())
    return bool((np.abs(values).max(axis=1) <= _ZERO).any())

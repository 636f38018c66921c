"""A chain on one move, seen from an obstacle: poses at and between knots, and travel bounds.

The travel bound of the reference engine: between two moments no point of a piece goes farther than
the chord of the farthest corner of its box plus half a bound on the second derivative, a segment.
"""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

import numpy as np

from pathsim.arm.forward import axis_frames
from pathsim.clearance.joint_pairs import joined_of
from pathsim.clearance.obstacle import Obstacle
from pathsim.model import Cell, Piece
from pathsim.model.linkage import Linkage, arm_on_link
from pathsim.model.turning_table import StandsOn
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, apply


def curvature_bound(q: Array, levers: Array) -> Array:
    """Bound ``A (n-1,)`` in m on ``|c''|`` in each segment, s in 0..1, joints moving evenly.

    ``A = sum_i w_i^2 L_i + 2 sum_(i<k) w_i w_k L_k`` with ``w_i = |dq_i|`` and ``L_i`` the lever
    of joint i, since ``d2c/dq_i dq_k = a_i x (a_k x (c - o_k))`` for i <= k. Where joint k
    slides its lever is 1 and the term ``a_i x a_k`` at most that; where joint i slides it is 0.
    """
    return _bend(np.abs(np.diff(q, axis=0)), levers)


def _bend(w: Array, levers: Array) -> Array:
    """Return that bound for steps of the joints ``w (..., dof)``, which are not below 0."""
    before = np.cumsum(w, axis=-1) - w
    return np.asarray((w**2) @ levers + 2 * (before * w) @ levers)


def reach(linkage: Linkage, piece: Piece, levers: Array, q: Array, deltas: Array) -> Array:
    """Bound ``(n,)`` on the way of a piece's points from ``q (n, axes)`` by any mixture, m.

    Of ``deltas (n, k, axes)``; ``levers`` as for ``segment_travel``. First-order way of the corners
    of its box plus half the bend bound, each at its largest.
    """
    own, (count, each, axes) = piece.link - linkage.skip, deltas.shape
    frames = axis_frames(linkage.fixed, linkage.joints(q), linkage.prismatic)[:, :own]
    corners = apply(frames[:, -1] @ linkage.ends[own - 1], piece.mesh.corners)
    arm = corners[:, :, None] - frames[:, None, :, :3, 3]
    z = frames[:, None, :, :3, 2]
    speed = np.where(linkage.prismatic[:own, None], z, np.cross(z, arm))  # (n, 8, own, 3)
    moves = linkage.joints(deltas.reshape(-1, axes)).reshape(count, each, -1)
    steps = np.einsum("nkj,ncjx->nkcx", moves[:, :, :own], speed)
    first = np.linalg.norm(steps, axis=3).max(axis=2)
    return np.asarray((first + _bend(np.abs(moves), levers) / 2).max(axis=1))


def segment_travel(q: Array, T_link: Array, piece: Piece, levers: Array) -> Array:
    """Bound ``(n-1,)`` in m of the way of every point of ``piece`` in each segment.

    ``q (n, dof)`` knots, ``T_link (n, 4, 4)`` poses of the piece's link at the knots,
    ``levers (dof,)`` from ``pathsim.model.lever``; joints in rad or m.

    With s in 0..1 along the segment a point c has ``|c''| <= A`` (``curvature_bound``). Its mean
    velocity is the chord ``c(1) - c(0)``, and ``|c'(s) - mean| <= A/2``, so

        speed <= |chord| + A/2 at every s,  way over a part of length f <= f (|chord| + A/2).

    The chord is ``(R1 - R0) c + (p1 - p0)``, whose length is convex in c, hence largest at
    a corner of the piece's bounding box.
    """
    bend = curvature_bound(q, levers)
    corners = apply(T_link, piece.mesh.corners)
    chord = np.linalg.norm(np.diff(corners, axis=0), axis=-1).max(axis=-1)
    return np.asarray(chord + bend / 2)


def sphere_gap(T_link: Array, piece: Piece, travel: Array, low: Array, high: Array) -> Array:
    """Lower bound ``(n-1,)`` in m of the distance of a piece to a box in each segment.

    ``low``, ``high`` ``(3,)``: the box, in the frame of ``T_link``'s parent. The sphere round
    the piece is at least ``d`` from the box at a knot; between two knots no point is nearer
    than ``(d0 + d1 - travel) / 2`` (go from whichever knot is nearer along the way).
    """
    centre = piece.mesh.corners.mean(axis=0)
    radius = np.linalg.norm(piece.mesh.vertices - centre, axis=-1).max()
    centres = apply(T_link, centre[None])[:, 0]
    outside = np.maximum(np.maximum(low - centres, centres - high), 0.0)
    d = np.linalg.norm(outside, axis=-1) - radius
    return np.asarray((d[:-1] + d[1:] - travel) / 2)


class ChainKind(IntEnum):
    """What a chain carries, and seen from where; links and joined pairs have a number each."""

    ARM_IN_WORLD = 0
    ARM_ON_TABLE = 1
    TABLE_IN_WORLD = 2
    ARM_ON_LINK = 3
    JOINED_PAIR = 4
    ARM_ON_TILT = 5
    TABLE_ON_TILT = 6


#: The arm's chain as seen from where something stands.
_ARM_ON = {
    StandsOn.FLOOR: ChainKind.ARM_IN_WORLD,
    StandsOn.TILT: ChainKind.ARM_ON_TILT,
    StandsOn.TABLE: ChainKind.ARM_ON_TABLE,
}
_OF_TABLE = (ChainKind.TABLE_IN_WORLD, ChainKind.TABLE_ON_TILT)


class ChainId(NamedTuple):
    """Which chain it is: ``number`` of the link or of the joined pair (``joined_of``)."""

    kind: ChainKind
    number: int = 0


def chain_id(piece: Piece, standing: Obstacle) -> ChainId:
    """Return which chain carries ``piece`` as seen from ``standing``."""
    if standing.at_joint is not None:
        return ChainId(ChainKind.JOINED_PAIR, standing.at_joint)
    if piece.body is not None:
        is_on_tilt = standing.stands_on is StandsOn.TILT
        return ChainId(ChainKind.TABLE_ON_TILT if is_on_tilt else ChainKind.TABLE_IN_WORLD)
    if standing.carrier is not None:
        return ChainId(ChainKind.ARM_ON_LINK, standing.carrier)
    return ChainId(_ARM_ON[standing.stands_on])


def linkage_of(cell: Cell, name: ChainId) -> Linkage:
    """Return a cell's chain by its name."""
    if name.kind is ChainKind.JOINED_PAIR:
        link = joined_of(cell)[name.number].piece.link
        if link > cell.arm.dof:
            return cell.table_linkage if link == cell.arm.dof + 1 else cell.turn_linkage
        return cell.world_linkage if link == 1 else arm_on_link(cell.arm, link - 1)
    if name.kind is ChainKind.TABLE_IN_WORLD:
        return cell.table_linkage
    if name.kind is ChainKind.TABLE_ON_TILT:
        return cell.turn_linkage
    if name.kind is ChainKind.ARM_ON_LINK:
        return arm_on_link(cell.arm, name.number)
    if name.kind is ChainKind.ARM_ON_TILT:
        return cell.tilt_linkage
    return cell.relative_linkage if name.kind is ChainKind.ARM_ON_TABLE else cell.world_linkage


def pieces_on(cell: Cell, name: ChainId, skip: int) -> tuple[Piece, ...]:
    """Return everything that a chain carries; ``skip``: its linkage's."""
    if name.kind is ChainKind.JOINED_PAIR:
        pair = joined_of(cell)[name.number].pair
        return () if pair is None else (pair[0],)
    if name.kind in _OF_TABLE:
        return tuple(piece for piece in cell.table_pieces if piece.link > skip)
    return tuple(piece for piece in cell.carried_pieces if piece.link > skip)


def moves_about(standing: Obstacle) -> bool:
    """Tell whether what stands is itself carried, by a link or by the turning table."""
    return standing.carrier is not None or standing.stands_on.is_carried


def frame_of(cell: Cell, standing: Obstacle, q: Array) -> Array:
    """``T_world_frame (4, 4)`` of the frame in which the chain past ``standing`` is described."""
    if standing.carrier is not None:
        return np.asarray(cell.link_poses(q[None])[0, standing.carrier])
    return np.array(cell.frame_motion(standing.stands_on, q[None])[0])


class ChainOnMove:
    """A linkage on one move: poses at and between knots, and bounds on the way in between."""

    def __init__(self, linkage: Linkage, track: MoveTrack, stroke: Array) -> None:
        self._linkage, self._track, self._stroke = linkage, track, stroke
        self._q = linkage.joints(track.q)
        self._poses = linkage.link_poses(track.q)
        self._between: dict[float, Array] = {}
        self._travel: dict[Piece, Array] = {}

    def knot_poses(self, piece: Piece) -> Array:
        """Poses ``(n, 4, 4)`` of the piece's link at the knots."""
        return np.asarray(self._poses[:, self._index(piece)])

    def pose(self, piece: Piece, time: float) -> Array:
        """Pose of the piece's link at ``time``."""
        knot = int(np.searchsorted(self._track.t, time))
        if knot < len(self._track.t) and self._track.t[knot] == time:
            return np.asarray(self._poses[knot, self._index(piece)])
        if time not in self._between:
            self._between[time] = self._linkage.link_poses(self._track.q_at(time))[0]
        return np.asarray(self._between[time][self._index(piece)])

    def _index(self, piece: Piece) -> int:
        return piece.link - self._linkage.skip - 1

    def segment_travel(self, piece: Piece) -> Array:
        """Bound ``(n-1,)`` of the piece's way in each segment, m."""
        if piece not in self._travel:
            lever = self._linkage.levers(piece.link, piece.mesh, self._stroke)
            self._travel[piece] = segment_travel(self._q, self.knot_poses(piece), piece, lever)
        return self._travel[piece]

    def way(self, piece: Piece, start: float, end: float) -> float:
        """Upper bound of how far any point of the piece travels from start to end, m."""
        travel, t = self.segment_travel(piece), self._track.t
        if len(travel) == 0:
            return 0.0
        first, last = segments_between(t, start, end)
        covered = np.minimum(t[first + 1 : last + 1], end) - np.maximum(t[first:last], start)
        return float((travel[first:last] * covered / np.diff(t[first : last + 1])).sum())


def segments_between(t: Array, start: float, end: float) -> tuple[int, int]:
    """First segment between knots ``t`` that meets [start, end] and the one behind the last."""
    count = len(t) - 1
    first = int(np.searchsorted(t, start, side="right")) - 1
    # A moment at the very end belongs to the last segment, not to none.
    first = min(max(first, 0), count - 1)
    last = int(np.searchsorted(t, end, side="left"))
    return first, max(last, first + 1)

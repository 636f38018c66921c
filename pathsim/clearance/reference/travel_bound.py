"""An upper bound on how far any point of a piece travels between two moments of a move."""

from __future__ import annotations

import numpy as np

from pathsim.model import Piece
from pathsim.transforms import Array, apply


def curvature_bound(q: Array, levers: Array) -> Array:
    """Bound ``A (n-1,)`` in m on ``|c''|`` in each segment, s in 0..1, joints moving evenly.

    ``A = sum_i w_i^2 L_i + 2 sum_(i<k) w_i w_k L_k`` with ``w_i = |dq_i|`` and ``L_i`` the lever
    of joint i, since ``d2c/dq_i dq_k = a_i x (a_k x (c - o_k))`` for i <= k. Where joint k
    slides its lever is 1 and the term ``a_i x a_k`` at most that; where joint i slides it is 0.
    """
    w = np.abs(np.diff(q, axis=0))
    before = np.cumsum(w, axis=1) - w
    return np.asarray((w**2) @ levers + 2 * (before * w) @ levers)


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

"""Where a point of a link is during any stretch of knots: the motion BVH, bounds over time.

The chain. With every axis z, ``T_i = T_(i-1) F_i Rz(q_i)`` (a slide: ``Tz(q_i)``), and between
two knots all joints move evenly. For a point c of a link, ``L_i`` the lever of joint i on it
(``pathsim.model.lever``) and ``w_i = |dq_i|``, with s in 0..1 along one segment,

    d2c / dq_i dq_k = a_i x (a_k x (c - o_k))   for i <= k,   a_i x a_k where k slides,
    |c''| <= A = sum_i w_i^2 L_i + 2 sum_(i<k) w_i w_k L_k     (``relative_chain.curvature_bound``),

and a curve with ``|c''| <= A`` lies within ``A / 8`` of the chord between its ends at the same
s: the difference d is 0 at both ends, and ``d = integral of G(s, u) c''(u) du`` with Green's
function G whose integral is ``s (1 - s) / 2 <= 1/8``.

A node [a, b] of many knots, s the share of its time, p a reference point of the link. At knot k

    c(k) - ((1-s) c(a) + s c(b)) = r_k + M_k (c - p),
    r_k = p(k) - ((1-s) p(a) + s p(b)),   M_k = R_k - (1-s) R_a - s R_b,

since the residual is affine in c. Between knots c is within A/8 of the line between the two
knots' places, so its residual is within A/8 of a mixture of two knots' residuals; the bounds
below describe convex sets, so that knots suffice. With unit vectors v1, v2 (any would do; the
directions in which r spreads most) and the least and largest ``v.r_k``, 0 included, as lo, hi:

    off = v1 (lo1 + hi1)/2 + v2 (lo2 + hi2)/2,   w1 = v1 (hi1 - lo1)/2,   w2 likewise,
    E2 = max_k |r_k - (v1.r_k) v1 - (v2.r_k) v2| + max A/8,   ER >= max_k |M_k|,

(``OFFSET``, ``SLAB_1``, ``SLAB_2``, ``BALL`` and ``ROTATION_BALL`` in a node's numbers),

    c(t) lies in (1-s) c(a) + s c(b) + off + [-1, 1] w1 + [-1, 1] w2 + ball(E2 + ER |c - p|).

v1 makes a weave cheap: its swing to and fro is a slab, not a ball; v2 does it for a circle.

ER comes from the children: a child's chord and its parent's are both linear in time and agree
at one end, so they differ at most by their difference D at the middle knot, and
``ER = max(ER_left, ER_right) + |D|``. The spectral norm ``|D|`` is the root of the largest
eigenvalue of ``D'D``, which is at most ``mean + sqrt(2) std`` of its three eigenvalues
(Wolkowicz and Styan, 1980); both need only traces.
"""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import (
    KernelArray,
    Vector,
    add,
    cross,
    dot,
    length,
    placed,
    row,
    scaled,
    sub,
)

#: Columns of a node's whole numbers: first knot, last knot, and how many rows behind the node its
#: children stand (0: it is one segment).
A, B, EARLY, LATE = 0, 1, 2, 3
#: Columns of a node's numbers: off, w1, w2 (3 each), E2, ER of the text above.
OFFSET, SLAB_1, SLAB_2, BALL, ROTATION_BALL = 0, 3, 6, 9, 10
WIDTH = 11
_SAMPLES = 16
#: A symmetric matrix: xx, xy, xz, yy, yz, zz.
Symmetric = tuple[float, float, float, float, float, float]


@kernel
def bend(before: KernelArray, after: KernelArray, lever: KernelArray) -> float:
    """Bound A on ``|c''|`` of a segment between two knots' joints (the module's text)."""
    total, moved = 0.0, 0.0
    for i in range(len(lever)):
        w = abs(after[i] - before[i])
        total += w * (w + 2.0 * moved) * lever[i]
        moved += w
    return total


@kernel
def spectral(m: KernelArray) -> float:
    """Upper bound of the spectral norm of ``m (3, 3)`` (the module's text)."""
    trace, squares = 0.0, 0.0
    for i in range(3):
        for j in range(3):
            entry = m[0, i] * m[0, j] + m[1, i] * m[1, j] + m[2, i] * m[2, j]
            squares += entry * entry
            if i == j:
                trace += entry
    mean = trace / 3.0
    std = np.sqrt(max(squares / 3.0 - mean * mean, 0.0))
    return float(np.sqrt(min(mean + np.sqrt(2.0) * std, trace)))


@kernel
def _put_residuals(
    places: KernelArray, times: KernelArray, a: int, b: int, rests: KernelArray
) -> None:
    """Write residuals of the reference point at knots inside [a, b] to ``rests (n, 3)``."""
    start, way = row(places, a), sub(row(places, b), row(places, a))
    rate = 1.0 / (times[b] - times[a])
    for k in range(a + 1, b):
        s = (times[k] - times[a]) * rate
        for j in range(3):
            rests[k, j] = places[k, j] - (start[j] + s * way[j])


@kernel
def _directions(rests: KernelArray, a: int, b: int) -> tuple[Vector, Vector]:
    """Two unit vectors square to each other, roughly those in which residuals spread most."""
    if b - a == 2:  # one knot inside: the first is its own, and any second will do
        r = row(rests, a + 1)
        size = length(r)
        v = scaled(r, 1.0 / size) if size > 1e-15 else (1.0, 0.0, 0.0)
        u = cross(v, (1.0, 0.0, 0.0) if abs(v[0]) < 0.6 else (0.0, 1.0, 0.0))
        return v, scaled(u, 1.0 / length(u))
    step = max((b - a) // _SAMPLES, 1)
    xx, xy, xz, yy, yz, zz = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(a + 1, b, step):
        r = row(rests, k)
        xx, xy, xz = xx + r[0] * r[0], xy + r[0] * r[1], xz + r[0] * r[2]
        yy, yz, zz = yy + r[1] * r[1], yz + r[1] * r[2], zz + r[2] * r[2]
    total = xx + yy + zz
    if not total > 1e-30:
        return (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
    m = (xx / total, xy / total, xz / total, yy / total, yz / total, zz / total)
    v = (1.0, 0.0, 0.0)
    if yy >= xx and yy >= zz:
        v = (0.0, 1.0, 0.0)
    elif zz >= xx:
        v = (0.0, 0.0, 1.0)
    square = _square(m)  # turns the best axis six times by m, in three steps
    v = _by(square, _by(square, _by(square, v)))
    v = scaled(v, 1.0 / length(v))
    # The second: the direction of most spread in the plane square to the first, in closed form.
    u = cross(v, (1.0, 0.0, 0.0) if abs(v[0]) < 0.6 else (0.0, 1.0, 0.0))
    u = scaled(u, 1.0 / length(u))
    other = cross(v, u)
    along_u, along_other = _by(m, u), _by(m, other)
    p, mixed, q = dot(along_u, u), dot(along_u, other), dot(along_other, other)
    largest = (p + q) / 2.0 + np.sqrt((p - q) * (p - q) / 4.0 + mixed * mixed)
    x, y = (largest - q, mixed) if p > q else (mixed, largest - p)
    size = np.sqrt(x * x + y * y)
    if size > 1e-30:
        u = add(scaled(u, x / size), scaled(other, y / size))
    return v, u


@kernel
def _by(m: Symmetric, v: Vector) -> Vector:
    """Return a symmetric matrix times a vector."""
    return (
        m[0] * v[0] + m[1] * v[1] + m[2] * v[2],
        m[1] * v[0] + m[3] * v[1] + m[4] * v[2],
        m[2] * v[0] + m[4] * v[1] + m[5] * v[2],
    )


@kernel
def _square(m: Symmetric) -> Symmetric:
    """Return a symmetric matrix times itself."""
    x, y, z = (m[0], m[1], m[2]), (m[1], m[3], m[4]), (m[2], m[4], m[5])
    return (dot(x, x), dot(x, y), dot(x, z), dot(y, y), dot(y, z), dot(z, z))


@kernel
def _spread(rests: KernelArray, bends: KernelArray, a: int, b: int, out: KernelArray) -> None:
    """Write off, w1, w2 and E2 of the node [a, b] to ``out``."""
    worst_bend = 0.0
    for k in range(a, b):
        worst_bend = max(worst_bend, bends[k])
    v, u = _directions(rests, a, b)
    low1, high1, low2, high2, rest = 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(a + 1, b):
        r = row(rests, k)
        x, y = dot(v, r), dot(u, r)
        low1, high1 = min(low1, x), max(high1, x)
        low2, high2 = min(low2, y), max(high2, y)
        beside = sub(sub(r, scaled(v, x)), scaled(u, y))
        rest = max(rest, dot(beside, beside))
    off = add(scaled(v, (low1 + high1) / 2.0), scaled(u, (low2 + high2) / 2.0))
    first, second = scaled(v, (high1 - low1) / 2.0), scaled(u, (high2 - low2) / 2.0)
    for j in range(3):
        out[OFFSET + j], out[SLAB_1 + j], out[SLAB_2 + j] = off[j], first[j], second[j]
    out[BALL] = np.sqrt(rest) + worst_bend / 8.0


@kernel
def _middle(rests: KernelArray, a: int, b: int) -> int:
    """Knot in the middle quarter that is nearest the chord: where a weave crosses its line."""
    quarter = (b - a) // 8
    centre = (a + b) // 2
    best, least = centre, np.inf
    for k in range(max(centre - quarter, a + 1), min(centre + quarter, b - 1) + 1):
        size = length(row(rests, k))
        if size < least:
            best, least = k, size
    return best


@kernel
def _turn_gap(
    poses: KernelArray, times: KernelArray, a: int, b: int, m: int, gap: KernelArray
) -> float:
    """Bound of the norm of ``R_m - (1-s) R_a - s R_b``, worked out in ``gap (3, 3)``."""
    s = (times[m] - times[a]) / (times[b] - times[a])
    for i in range(3):
        for j in range(3):
            k = 4 * i + j
            gap[i, j] = poses[m, k] - (1.0 - s) * poses[a, k] - s * poses[b, k]
    return spectral(gap)


@kernel_allocating
def motion_bvh(poses: KernelArray, places: KernelArray, times: KernelArray, bends: KernelArray,
              whole: KernelArray, numbers: KernelArray) -> None:  # fmt: skip
    """Fill the nodes ``whole (2n-3, 4)`` and ``numbers (2n-3, WIDTH)`` of ``n >= 2`` knots.

    The root is node 0 and children come behind their parent.
    """
    n = len(times)
    stack, gap, rests = np.empty((4 * 64, 3), np.int64), np.empty((3, 3)), np.empty((n, 3))
    stack[0, 0], stack[0, 1], stack[0, 2] = 0, n - 1, -1
    filled, nodes = 1, 0
    while filled > 0:
        filled -= 1
        a, b, slot = stack[filled, 0], stack[filled, 1], stack[filled, 2]
        node = nodes
        nodes += 1
        if slot >= 0:
            whole[slot // 2, EARLY + slot % 2] = node - slot // 2
        whole[node, A], whole[node, B] = a, b
        whole[node, EARLY], whole[node, LATE] = 0, 0
        if b - a == 1:
            for j in range(WIDTH):
                numbers[node, j] = 0.0
            numbers[node, BALL] = bends[a] / 8.0
            continue
        _put_residuals(places, times, a, b, rests)
        _spread(rests, bends, a, b, numbers[node])
        m = _middle(rests, a, b)
        stack[filled, 0], stack[filled, 1], stack[filled, 2] = m, b, 2 * node + 1
        stack[filled + 1, 0], stack[filled + 1, 1], stack[filled + 1, 2] = a, m, 2 * node
        filled += 2
    for node in range(nodes - 1, -1, -1):
        if whole[node, EARLY] == 0:
            numbers[node, ROTATION_BALL] = 0.0
            continue
        early, late = node + whole[node, EARLY], node + whole[node, LATE]
        a, b = whole[node, A], whole[node, B]
        apart = _turn_gap(poses, times, a, b, whole[early, B], gap)
        numbers[node, ROTATION_BALL] = (
            max(numbers[early, ROTATION_BALL], numbers[late, ROTATION_BALL]) + apart
        )


@kernel_allocating
def grow_trees(rows: KernelArray, references: KernelArray, times: KernelArray, poses: KernelArray,
               bends: KernelArray, whole: KernelArray, numbers: KernelArray) -> None:  # fmt: skip
    """Fill the time trees of those links on one stretch that are in ``rows (r,)``.

    ``references (l, 3)``, ``times (n,)``; ``poses (l, n, 12)`` and ``bends (l, n)`` of
    ``lay_out``; ``whole (r, 2n-3, 4)``, ``numbers (r, 2n-3, WIDTH)``.
    """
    places = np.empty((len(times), 3))
    for r in range(len(rows)):
        i = rows[r]
        for k in range(len(times)):
            c = placed(poses[i], k, row(references, i))
            places[k, 0], places[k, 1], places[k, 2] = c
        motion_bvh(poses[i], places, times, bends[i], whole[r], numbers[r])

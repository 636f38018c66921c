"""The closed-form inverse of ``wrist_inverse.py`` as a kernel: pose by pose, or all poses at once.

It is put together from angles that solve one equation about one or two axes (Paden-Kahan
subproblems; Murray, Li and Sastry, A Mathematical Introduction to Robotic Manipulation, ch. 3,
and their later least-squares forms). Axes are unit vectors. In plain Python numbers of a pose may
be columns ``(n,)`` of many: nothing here is chosen by a value of a pose, only by a branch's bits.
"""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import KernelArray, Vector, cross, dot, length, row, scaled, sub

#: An angle, rad, its cosine and its sine.
Angle = tuple[float, float, float]
#: Rows of the geometry's vectors.
SHOULDER, TO_SHOULDER, UPPER_ARM, FOREARM, IN_FLANGE, ACROSS = 0, 1, 2, 3, 4, 5
#: How far a cosine may lie outside [-1, 1], relative, and still count as a touching solution:
#: rounding at full stretch, not reach that is not there.
TANGENT = 1e-9
#: Below this sine of joint 5 joints 4 and 6 turn about one line: only their sum is defined.
ALIGNED = 1e-9
#: A vector shorter than this has no direction.
NO_VECTOR = 1e-140


@kernel
def rotated(axis: Vector, angle: float, v: Vector) -> Vector:
    """Return ``v`` turned about a unit axis (Rodrigues)."""
    return _turned_by(axis, np.cos(angle), np.sin(angle), v)


@kernel
def _turned_by(axis: Vector, c: float, s: float, v: Vector) -> Vector:
    """Return ``v`` turned about a unit axis by the angle of this cosine and sine."""
    x, along = cross(axis, v), dot(axis, v) * (1.0 - c)
    return (
        c * v[0] + s * x[0] + along * axis[0],
        c * v[1] + s * x[1] + along * axis[1],
        c * v[2] + s * x[2] + along * axis[2],
    )


@kernel
def _turn_onto(axis: Vector, start: Vector, goal: Vector) -> Angle:
    """Angle about ``axis`` that brings ``start`` closest to ``goal``."""
    cosine = dot(start, goal) - dot(start, axis) * dot(goal, axis)
    return _angle_of(cosine, dot(axis, cross(start, goal)))


@kernel
def _angle_of(x: float, y: float) -> Angle:
    """Angle of the vector (x, y), its cosine and sine; 0 of no vector.

    From the vector's length: to work them out of the angle takes several times as long. The angle
    is that of the cosine and the sine, so that all that follows is solved for just this angle: of
    (-0.0, 0.0) it would else be half a turn, and the cosine 1. Below NO_VECTOR squares are nothing,
    or have lost their digits.
    """
    size = np.sqrt(x * x + y * y)
    is_none = size < NO_VECTOR
    c, s = (x + is_none) / (size + is_none), y / (size + is_none)
    return np.arctan2(s, c), c, s


@kernel
def _turn_to_height(axis: Vector, point: Vector, direction: Vector, height: float,
                    is_other: bool) -> tuple[Angle, bool]:  # fmt: skip
    """One of both angles x with ``direction . Rot(axis, x) point = height``; whether it exists."""
    c, s, rest, size = _equation(axis, point, direction, height)
    square = size - rest * rest
    angle = _one_of_both(c, s, rest, np.sqrt(np.maximum(square, 0.0)), is_other)
    return angle, square >= -TANGENT * np.maximum(size, 1e-12)


@kernel
def _turn_by_root(axis: Vector, point: Vector, direction: Vector, height: float, root: float,
                  is_other: bool) -> tuple[Angle, bool]:  # fmt: skip
    """As ``_turn_to_height``, where the square root is known without cancellation."""
    c, s, rest, size = _equation(axis, point, direction, height)
    exists = size - rest * rest >= -TANGENT * np.maximum(size, 1e-12)
    return _one_of_both(c, s, rest, root, is_other), exists


@kernel
def _equation(axis: Vector, point: Vector, direction: Vector,
              height: float) -> tuple[float, float, float, float]:  # fmt: skip
    """Return ``c, s, rest`` of ``c cos x + s sin x = rest``, and ``c^2 + s^2``."""
    along = scaled(axis, dot(point, axis))
    across = sub(point, along)
    c, s = dot(across, direction), dot(cross(axis, across), direction)
    return c, s, height - dot(along, direction), c * c + s * s


@kernel
def _one_of_both(c: float, s: float, rest: float, root: float, is_other: bool) -> Angle:
    """Return the sum of the angles of the vectors (c, s) and (rest, root), or their difference.

    As complex numbers a product, whose angle needs to be worked out only once.
    """
    signed = -root if is_other else root
    return _angle_of(c * rest - s * signed, s * rest + c * signed)


@kernel
def _turned(matrix: KernelArray, v: Vector) -> Vector:
    """Return ``matrix[:3, :3] @ v``."""
    return (
        matrix[0, 0] * v[0] + matrix[0, 1] * v[1] + matrix[0, 2] * v[2],
        matrix[1, 0] * v[0] + matrix[1, 1] * v[1] + matrix[1, 2] * v[2],
        matrix[2, 0] * v[0] + matrix[2, 1] * v[1] + matrix[2, 2] * v[2],
    )


@kernel
def _wrapped(angle: float) -> float:
    """Return an angle as ``arctan2`` tells it, in (-pi, pi]."""
    return angle + (2.0 * np.pi) * (angle <= -np.pi)


@kernel
def wrist_branches(axes: KernelArray, vectors: KernelArray, flange_back: KernelArray,
                   square: bool, branches: KernelArray, T: KernelArray, q: KernelArray,
                   exists: KernelArray) -> None:  # fmt: skip
    """Fill ``q (n, b, 6)`` and ``exists (n, b)`` for poses ``T (n, 4, 4)``.

    In plain Python also ``q (1, b, 6, n)``, ``exists (1, b, n)`` for ``T (1, 4, 4, n)``.
    ``axes (6, 3)``, ``vectors (6, 3)``, ``flange_back (3, 3)``: the geometry, its rotation
    transposed; ``square``: axis 5 is square to axes 4 and 6; ``branches (b,)``.
    """
    h1, h2, h3, h4, h5, h6 = (row(axes, 0), row(axes, 1), row(axes, 2), row(axes, 3),
                              row(axes, 4), row(axes, 5))  # fmt: skip
    to_shoulder, upper, fore = (
        row(vectors, TO_SHOULDER),
        row(vectors, UPPER_ARM),
        row(vectors, FOREARM),
    )
    across = row(vectors, ACROSS)
    offset = dot(h2, to_shoulder) + dot(h2, upper) + dot(h2, fore)
    for i in range(len(T)):
        pose = T[i]
        c = _turned(pose, row(vectors, IN_FLANGE))
        centre = sub((c[0] + pose[0, 3], c[1] + pose[1, 3], c[2] + pose[2, 3]),
                     row(vectors, SHOULDER))  # fmt: skip
        for k in range(len(branches)):
            branch = branches[k]
            back = scaled(h1, -1.0)
            # Angle, cosine and sine; in the sines of what follows the turns go back.
            (q1, c1, s1), reach_1 = _turn_to_height(back, centre, h2, offset, bool(branch & 4))
            s1 = -s1
            goal = sub(_turned_by(h1, c1, s1, centre), to_shoulder)
            wanted = (dot(goal, goal) - dot(fore, fore) - dot(upper, upper)) / 2.0
            (q3, c3, s3), reach_3 = _turn_to_height(h3, fore, upper, wanted, bool(branch & 2))
            turned = _turned_by(h3, c3, s3, fore)
            s3 = -s3
            elbow = (upper[0] + turned[0], upper[1] + turned[1], upper[2] + turned[2])
            q2, c2, s2 = _turn_onto(h2, elbow, goal)
            s2 = -s2
            # The wrist's rotation R, only ever as what it does to two vectors.
            last = _turned_by(h1, c1, s1, _turned(pose, _turned(flange_back, h6)))
            last = _turned_by(h3, c3, s3, _turned_by(h2, c2, s2, last))
            off_line = length(cross(h4, last))
            height = dot(last, h4)
            if square:
                # The root of joint 5 without cancellation keeps it exact near alignment.
                fifth, reach_5 = _turn_by_root(h5, h6, h4, height, off_line, bool(branch & 1))
            else:
                fifth, reach_5 = _turn_to_height(h5, h6, h4, height, bool(branch & 1))
            q5, c5, s5 = fifth
            q4, c4, s4 = _turn_onto(h4, _turned_by(h5, c5, s5, h6), last)
            s5 = -s5
            # Products, not a choice: an aligned wrist leaves joint 4 at zero.
            turns = off_line >= ALIGNED
            q4, c4, s4 = turns * q4, turns * c4 + (1.0 - turns), -(turns * s4)
            aside = _turned_by(h1, c1, s1, _turned(pose, _turned(flange_back, across)))
            aside = _turned_by(h3, c3, s3, _turned_by(h2, c2, s2, aside))
            aside = _turned_by(h5, c5, s5, _turned_by(h4, c4, s4, aside))
            q6, _, _ = _turn_onto(h6, across, aside)
            q[i, k, 0], q[i, k, 1], q[i, k, 2] = _wrapped(q1), _wrapped(q2), _wrapped(q3)
            q[i, k, 3], q[i, k, 4], q[i, k, 5] = _wrapped(q4), _wrapped(q5), _wrapped(q6)
            exists[i, k] = reach_1 & reach_3 & reach_5

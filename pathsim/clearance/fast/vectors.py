"""Vectors of three numbers as tuples: they live in registers and cost no memory."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np

from pathsim.clearance.fast.jit import kernel

#: Three float64. Kernels are compiled; the checker of types sees them as plain Python.
Vector: TypeAlias = tuple[float, float, float]
Numbers: TypeAlias = Any


@kernel
def dot(a: Vector, b: Vector) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@kernel
def cross(a: Vector, b: Vector) -> Vector:
    """Return the vector product."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


@kernel
def sub(a: Vector, b: Vector) -> Vector:
    """Return ``a - b``."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


@kernel
def add(a: Vector, b: Vector) -> Vector:
    """Return ``a + b``."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


@kernel
def along(a: Vector, step: float, direction: Vector) -> Vector:
    """Return ``a + step * direction``."""
    return (
        a[0] + step * direction[0],
        a[1] + step * direction[1],
        a[2] + step * direction[2],
    )


@kernel
def between(a: Vector, b: Vector, s: float) -> Vector:
    """Return ``(1 - s) a + s b``."""
    r = 1.0 - s
    return (r * a[0] + s * b[0], r * a[1] + s * b[1], r * a[2] + s * b[2])


@kernel
def scaled(a: Vector, factor: float) -> Vector:
    """Return ``factor * a``."""
    return (factor * a[0], factor * a[1], factor * a[2])


@kernel
def length(a: Vector) -> float:
    """Return the length."""
    return float(np.sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2]))


@kernel
def row(array: Numbers, i: int) -> Vector:
    """Row ``i`` of an array ``(n, 3)``."""
    return (array[i, 0], array[i, 1], array[i, 2])


@kernel
def corner(triangles: Numbers, i: int, k: int) -> Vector:
    """Corner ``k`` of triangle ``i`` of ``(m, 3, 3)``."""
    return (triangles[i, k, 0], triangles[i, k, 1], triangles[i, k, 2])


@kernel
def placed(pose: Numbers, c: Vector) -> Vector:
    """Point ``R c + p``; ``pose (12,)`` holds the rows of ``[R | p]``."""
    return (
        pose[0] * c[0] + pose[1] * c[1] + pose[2] * c[2] + pose[3],
        pose[4] * c[0] + pose[5] * c[1] + pose[6] * c[2] + pose[7],
        pose[8] * c[0] + pose[9] * c[1] + pose[10] * c[2] + pose[11],
    )


@kernel
def turned(pose: Numbers, c: Vector) -> Vector:
    """Vector ``R c``; ``pose (12,)`` holds the rows of ``[R | p]``."""
    return (
        pose[0] * c[0] + pose[1] * c[1] + pose[2] * c[2],
        pose[4] * c[0] + pose[5] * c[1] + pose[6] * c[2],
        pose[8] * c[0] + pose[9] * c[1] + pose[10] * c[2],
    )


@kernel
def compose(first: Numbers, second: Numbers, out: Numbers) -> None:
    """Write ``first @ second`` to ``out``; all ``(12,)``, rows of ``[R | p]``."""
    for i in range(3):
        x, y, z = first[4 * i], first[4 * i + 1], first[4 * i + 2]
        for j in range(4):
            value = x * second[j] + y * second[4 + j] + z * second[8 + j]
            if j == 3:
                value += first[4 * i + 3]
            out[4 * i + j] = value

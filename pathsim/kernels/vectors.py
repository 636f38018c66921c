"""Vectors of three numbers as tuples: they live in registers and cost no memory.

Rows of arrays are named by their number, not cut out: each view of an array counts its users
up and down, which in an inner loop costs more than the arithmetic. For the same reason kernels
take arrays out of records once, before their loops.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np

from pathsim.kernels.jit import kernel

#: Three float64. Kernels are compiled; the checker of types sees them as plain Python.
Vector: TypeAlias = tuple[float, float, float]
KernelArray: TypeAlias = Any


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
    size: float = np.sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2])
    return size


@kernel
def row(array: KernelArray, i: int) -> Vector:
    """Row ``i`` of an array ``(n, 3)``."""
    return (array[i, 0], array[i, 1], array[i, 2])


@kernel
def corner(triangles: KernelArray, i: int, k: int) -> Vector:
    """Corner ``k`` of triangle ``i`` of ``(m, 3, 3)``."""
    return (triangles[i, k, 0], triangles[i, k, 1], triangles[i, k, 2])


@kernel
def placed(poses: KernelArray, i: int, c: Vector) -> Vector:
    """Point ``R c + p``; row ``i`` of ``poses (n, 12)`` holds the rows of ``[R | p]``."""
    return (
        poses[i, 0] * c[0] + poses[i, 1] * c[1] + poses[i, 2] * c[2] + poses[i, 3],
        poses[i, 4] * c[0] + poses[i, 5] * c[1] + poses[i, 6] * c[2] + poses[i, 7],
        poses[i, 8] * c[0] + poses[i, 9] * c[1] + poses[i, 10] * c[2] + poses[i, 11],
    )


@kernel
def turned(poses: KernelArray, i: int, c: Vector) -> Vector:
    """Vector ``R c``; row ``i`` of ``poses (n, 12)`` holds the rows of ``[R | p]``."""
    return (
        poses[i, 0] * c[0] + poses[i, 1] * c[1] + poses[i, 2] * c[2],
        poses[i, 4] * c[0] + poses[i, 5] * c[1] + poses[i, 6] * c[2],
        poses[i, 8] * c[0] + poses[i, 9] * c[1] + poses[i, 10] * c[2],
    )


@kernel
def compose(
    first: KernelArray, i: int, second: KernelArray, j: int, out: KernelArray, k: int
) -> None:
    """Write pose ``first[i] @ second[j]`` to ``out[k]``; all ``(n, 12)``, rows of ``[R | p]``.

    ``out[k]`` must be neither of the two.
    """
    for a in range(0, 12, 4):
        x, y, z = first[i, a], first[i, a + 1], first[i, a + 2]
        for b in range(4):
            out[k, a + b] = x * second[j, b] + y * second[j, 4 + b] + z * second[j, 8 + b]
        out[k, a + 3] += first[i, a + 3]


@kernel
def copy_row(source: KernelArray, i: int, out: KernelArray, k: int) -> None:
    """Copy pose ``source[i]`` to ``out[k]``."""
    for j in range(12):
        out[k, j] = source[i, j]

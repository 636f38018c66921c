"""Directions in which points spread most and least, by Jacobi's rotations.

Our own, because the library's routine for any size loads a matrix library (0.15 s, more than a
check of a small cell), and for three rows is no faster.
"""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import KernelArray

#: After so many rounds the rest is far below rounding: it shrinks by its square each round.
_ROUNDS = 12


@kernel
def principal_axes(spread: KernelArray, axes: KernelArray) -> None:
    """Write the eigenvectors of a symmetric matrix to the columns of ``axes (3, 3)``, in no order.

    ``spread (3, 3)`` is lost: its eigenvalues stay on its diagonal. Cyclic Jacobi method
    (Golub and Van Loan, Matrix Computations, 8.5): each rotation makes one entry beside the
    diagonal zero. The columns are orthonormal to rounding, whatever the matrix.
    """
    for i in range(3):
        for j in range(3):
            axes[i, j] = 1.0 if i == j else 0.0
    for _ in range(_ROUNDS):
        if spread[0, 1] == 0.0 and spread[0, 2] == 0.0 and spread[1, 2] == 0.0:
            return
        for p in range(2):
            for q in range(p + 1, 3):
                beside = spread[p, q]
                apart = spread[q, q] - spread[p, p]
                if abs(beside) <= 1e-18 * (abs(spread[p, p]) + abs(spread[q, q])):
                    spread[p, q] = spread[q, p] = 0.0
                    continue
                tau = apart / (2.0 * beside)
                t = 1.0 / (abs(tau) + np.sqrt(1.0 + tau * tau))
                t = t if tau >= 0.0 else -t
                c = 1.0 / np.sqrt(1.0 + t * t)
                s = t * c
                for k in range(3):
                    x, y = spread[k, p], spread[k, q]
                    spread[k, p], spread[k, q] = c * x - s * y, s * x + c * y
                for k in range(3):
                    x, y = spread[p, k], spread[q, k]
                    spread[p, k], spread[q, k] = c * x - s * y, s * x + c * y
                    x, y = axes[k, p], axes[k, q]
                    axes[k, p], axes[k, q] = c * x - s * y, s * x + c * y
                spread[p, q] = spread[q, p] = 0.0

"""The wire's tip on the flange, from one spot touched in several postures: least squares.

With ``T_i`` the flange's poses, ``R_i p + t_i = c`` for the tip ``p`` and the spot ``c``: linear in
both. Postures that turn about one axis alone leave the tip open along that axis.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pathsim.errors import CannotCheck
from pathsim.touches.placement import IN_95
from pathsim.transforms import Array, frozen

_NOT_AT_ALL = 0.02
_FEWEST = 4


@dataclass(frozen=True, eq=False)
class TipFit:
    """``tip (3,)`` on the flange and ``spot (3,)`` in the frame of the poses, m.

    ``residuals (n,)``: how far the tip is off the spot in each posture. ``off``: how far the tip
    may be off, 95 times in 100, by the noise that was said or the residuals, whichever is more.
    """

    tip: Array
    spot: Array
    residuals: Array
    off: float


def fit_tip(flange_poses: ArrayLike, noise: float) -> TipFit:
    """Fit the tip to poses ``(n, 4, 4)`` of the flange; ``noise``: sigma of a touch, m.

    Raises CannotCheck for fewer than four postures, or where they are too much alike.
    """
    T = np.asarray(flange_poses, float)
    if T.ndim != 3 or len(T) < _FEWEST:
        raise CannotCheck(f"{len(T)} postures on one spot are too few; touch it from four or more")
    J = np.concatenate([np.hstack([one[:3, :3], -np.eye(3)]) for one in T])
    sizes = np.linalg.svd(J, compute_uv=False)
    if sizes[-1] < _NOT_AT_ALL * sizes[0]:
        raise CannotCheck(
            "the postures on the spot are too much alike: tilt the torch 30 deg or more to two "
            "sides, and turn it about the wire"
        )
    found = np.linalg.lstsq(J, -T[:, :3, 3].ravel(), rcond=None)[0]
    off = J @ found + T[:, :3, 3].ravel()
    sigma = max(noise, float(np.sqrt(off @ off / (len(off) - 6))))
    covariance = sigma**2 * np.linalg.inv(J.T @ J)[:3, :3]
    spread = float(np.sqrt(np.linalg.eigvalsh(covariance)[-1]))
    return TipFit(
        frozen(found[:3]), frozen(found[3:]),
        frozen(np.linalg.norm(off.reshape(-1, 3), axis=1)), IN_95 * spread,
    )  # fmt: skip

"""How held axes (a rail, the table's) go along a straight move, an arc or a seam."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.transforms import Array

#: A held axis that was taught so far off an even way at an arc's via point goes through it, rad or
#: m: points are written down to a tenth of a millimetre and a hundredth of a degree.
_TAUGHT_OFF = 2e-4


@dataclass(frozen=True, eq=False)
class HeldWay:
    """Values of the held axes ``(c,)`` over the share 0..1 of a path that is done.

    ``ends (m,)``: shares where a piece ends, the last one 1. ``pieces (m, c, 4)``: what each axis
    is in a piece, as a cubic in the share since the piece began, lowest power first.
    """

    ends: Array
    pieces: Array

    @classmethod
    def evenly(cls, start: Array, end: Array) -> HeldWay:
        """Return the way that goes evenly from ``start (c,)`` to ``end (c,)``."""
        pieces = np.zeros((1, len(start), 4))
        pieces[0, :, 0], pieces[0, :, 1] = start, end - start
        return cls(np.ones(1), pieces)

    @classmethod
    def through(cls, shares: Array, values: Array) -> HeldWay:
        """Return the way through ``values (n, c)`` at ``shares (n,)``, from 0 to 1.

        A cubic spline that bends nowhere suddenly, so that speed and acceleration of the axes have
        no leap, and that does not bend at its two ends.
        """
        from scipy.interpolate import CubicSpline

        spline = CubicSpline(shares, values, bc_type="natural")
        pieces = np.moveaxis(spline.c[::-1], 0, 2)  # (power, piece, axis), the highest power first
        return cls(np.array(shares[1:], dtype=float), np.ascontiguousarray(pieces))

    @classmethod
    def taught(cls, start: Array, end: Array, share: float, via: Array | None) -> HeldWay:
        """Return the even way from ``start`` to ``end``; by ``via (c,)`` where that is off it.

        ``share``: where ``via`` was taught.
        """
        evenly = cls.evenly(start, end)
        if via is None or (np.abs(via - evenly(np.array([share]))[0]) <= _TAUGHT_OFF).all():
            return evenly
        return cls.through(np.array([0.0, share, 1.0]), np.stack([start, via, end]))

    def __call__(self, shares: Array) -> Array:
        """Values ``(n, c)`` at shares ``(n,)``."""
        starts = np.append(0.0, self.ends[:-1])
        which = np.minimum(np.searchsorted(self.ends, shares), len(self.ends) - 1)
        x = (shares - starts[which])[:, None]
        way = self.pieces[which]
        return np.asarray(way[..., 0] + x * (way[..., 1] + x * (way[..., 2] + x * way[..., 3])))

    @property
    def start(self) -> Array:
        """Values ``(c,)`` at the start."""
        return np.asarray(self.pieces[0, :, 0])

    @cached_property
    def steepest(self) -> Array:
        """How fast each axis goes for the share, where it is fastest ``(c,)``, rad or m."""
        if self.is_even:
            return np.asarray(self.pieces[0, :, 1])
        # The slope of a cubic is a parabola: largest at an end of its piece, or at its turning.
        _, b, c, d = np.moveaxis(self.pieces, 2, 0)
        long = np.diff(self.ends, prepend=0.0)[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            turning = np.clip(np.nan_to_num(-c / (3 * d)), 0.0, long)
        slopes = [b + x * (2 * c + 3 * x * d) for x in (np.zeros_like(long), turning, long)]
        return np.asarray(np.abs(slopes).max(axis=(0, 1)))

    @property
    def is_even(self) -> bool:
        """Whether all axes go evenly from start to end."""
        one = len(self.ends) == 1
        return one and not (self.pieces.shape[1] and self.pieces[0, :, 2:].any())

    @cached_property
    def carried(self) -> float:
        """How far the axis that goes farthest goes, forth and back, rad or m."""
        if self.is_even:
            return float(np.abs(self.pieces[0, :, 1]).max(initial=0.0))
        looks = np.linspace(0.0, 1.0, 4 * len(self.ends) + 1)
        return float(np.abs(np.diff(self(looks), axis=0)).sum(axis=0).max(initial=0.0))

"""How much a groove holds: its area below the plates' surface, where a seam is cut across."""

from __future__ import annotations

import itertools

import numpy as np

from pathsim.each_once import each_once
from pathsim.transforms import Array, BoolArray

#: Least cosine of a wall of the groove towards it.
_TOWARDS = 0.05
#: The wire's end may be so far beside the groove, m.
_ASIDE = 6e-3
#: Where a groove widens again by more than this, it is the other side's, m.
_WIDENS = 1e-4
_NO_STEP = 1e-9
#: A share of a piece between two corners.
_INSIDE = 1e-6


def groove_area(ends: Array, normals: Array, square_to: Array, top: float) -> float | None:
    """Return the area between two plates, m^2, from their surface down; None where there is none.

    ``ends (n, 2, 2)`` m and outward ``normals (n, 2)``: of the faces that the plane square to the
    weld cuts, the wire's end at zero; ``square_to (2,)``: the plates' normal; ``top``: how high
    their surface is along it, m. Down to where a wall ends, or where the groove widens again: of a
    double groove one side. Exact for walls that the cut shows as straight pieces.
    """
    side = np.array([square_to[1], -square_to[0]])
    facing = normals @ side
    along, height = ends @ side, ends @ square_to
    low, high = height.min(axis=1), np.minimum(height.max(axis=1), top)
    steep = high - low > _NO_STEP
    before, behind = steep & (facing > _TOWARDS), steep & (facing < -_TOWARDS)
    both = before | behind
    levels = each_once(np.append(np.concatenate([low[both], high[both]]), top))[::-1]
    area = 0.0
    for upper, lower in itertools.pairwise(levels.tolist()):
        step = upper - lower
        if step < _NO_STEP:
            continue
        # a little inside the piece, where no wall ends
        widths = [
            _width(along, height, (before, behind), level)
            for level in (upper - _INSIDE * step, lower + _INSIDE * step)
        ]
        if widths[0] is None or widths[1] is None or widths[1] > widths[0] + _WIDENS:
            break
        area += step * (widths[0] + widths[1]) / 2
    return area if area > 0 else None


def _width(
    along: Array, height: Array, sides: tuple[BoolArray, BoolArray], level: float
) -> float | None:
    """Return how far the two sides of a groove are apart at a height; None where one is not."""
    before, behind = (_at(along[which], height[which], level) for which in sides)
    left, right = before[before < _ASIDE], behind[behind > -_ASIDE]
    if not (len(left) and len(right)):
        return None
    return max(float(right.min() - left.max()), 0.0)


def _at(along: Array, height: Array, level: float) -> Array:
    """Where pieces ``(n, 2)`` are along the plates at a height, of those that reach it."""
    there = (height.min(axis=1) < level) & (height.max(axis=1) > level)
    (a, b), (low, high) = along[there].T, height[there].T
    return np.asarray(a + (b - a) * (level - low) / (high - low))

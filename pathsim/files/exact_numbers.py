"""Numbers written so that they come back to the last bit, where a number can."""

from __future__ import annotations

import itertools

import numpy as np

from pathsim.transforms import Array, rotation_from_angles


def text(values: Array | float) -> str:
    """Return numbers with all their digits, apart by spaces: each is read back as it was."""
    return " ".join(repr(float(value)) for value in np.ravel(values))


def before_scaling(values: Array, scale: float) -> Array:
    """Return what a reader multiplies by ``scale`` to get ``values (...)``; same shape.

    To the last bit for values that came of such a product, as all do that were read from a file
    in that unit; else to one bit, which no other number would do better.
    """
    return np.asarray(values / scale)


def fixed_angles(R: Array) -> Array:
    """Angles ``(3,)`` rad about fixed x, then y, then z, of a rotation ``R (3, 3)``.

    Of the nearest ones that rotation whose matrix differs least, in most cases by nothing.
    """
    across = float(np.hypot(R[0, 0], R[1, 0]))
    y = np.arctan2(-R[2, 0], across)
    if across < 1e-9:  # x and z turn about one line: all of it goes to z
        first = np.array([0.0, y, np.arctan2(-R[0, 1], R[1, 1])])
    else:
        first = np.array([np.arctan2(R[2, 1], R[2, 2]), y, np.arctan2(R[1, 0], R[0, 0])])
    first += 0.0  # no angle of minus nothing
    near = [(v, np.nextafter(v, np.inf), np.nextafter(v, -np.inf)) for v in first]
    best, least = first, np.inf
    for candidate in itertools.product(*near):
        # One by one, as a reader does it: many at once may round otherwise.
        off = np.abs(rotation_from_angles("fixed x-y-z", candidate) - R).max()
        if off < least:
            best, least = np.array(candidate), off
        if least == 0.0:
            break
    return best

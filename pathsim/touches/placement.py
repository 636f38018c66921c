"""A jig's placement by touches on places, edges and faces of its drawing: least squares.

A touch on a place fixes three directions, on an edge two, on a face one; three, two and one of
faces fix all six. With tips known to a noise of sigma in each direction the error of the fit is
Gaussian, its covariance sigma^2 (J^T J)^-1 (Gauss and Newton at the optimum). At a place it is
that of shift and turn together; its length stays below k times the root of the largest
eigenvalue there at least as often as three independent standard normals stay within a ball of k.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from pathsim.errors import CannotCheck
from pathsim.transforms import Array, frozen, inverse, pose

#: Within so many sigma of the middle three standard normals are 95 times in 100, and all but once
#: in a million.
IN_95, IN_ALL = 2.7954834829151074, 5.537585187264716
_STEPS, _STILL = 100, 1e-12
#: A direction that the touches fix so many times worse than the best one is hardly fixed.
_HARDLY, _NOT_AT_ALL = 0.08, 1e-6
#: Of an error's square less than this share is left in the residuals: nobody would see it.
_UNSEEN = 1e-3
#: Touches fit together if their residuals are not larger than once in a thousand.
_ONCE_IN_A_THOUSAND = 3.09


class Feature(StrEnum):
    """What of the drawing was touched."""

    PLACE = "place"
    EDGE = "edge"
    FACE = "face"


@dataclass(frozen=True, eq=False)
class Touch:
    """A tip ``(3,)`` in the world, on ``drawn (3,)`` in the drawing, m.

    ``direction (3,)``: along the edge, or square to the face; of any length.
    """

    name: str
    tip: Array
    drawn: Array
    feature: Feature = Feature.PLACE
    direction: Array | None = None


@dataclass(frozen=True, eq=False)
class Placement:
    """Where a drawing stands: ``T_world_drawing (4, 4)``.

    ``residuals (n,)``: how far each tip is off its feature, m. ``sigma``: noise of a tip in each
    direction that was reckoned with, m: as was said, or what the residuals show if that is more.
    ``covariance (6, 6)``: of shift (m) and turn (rad) at ``centre (3,)`` in the world. ``fits``:
    whether the residuals are within the noise that was said; ``is_tested``: whether there were
    more touches than needed, so that they could tell. ``hardly_fixed``: words for what the
    touches hardly fix. ``unproved``: indices of touches that may be wrong in a direction in which
    no residual would show it.
    """

    T_world_drawing: Array
    residuals: Array
    sigma: float
    covariance: Array
    centre: Array
    fits: bool
    is_tested: bool
    hardly_fixed: tuple[str, ...]
    unproved: tuple[int, ...] = ()

    def off_at(self, place: ArrayLike) -> float:
        """How far a place ``(3,)`` in the world may be off, m, 95 times in 100."""
        return IN_95 * self._spread(np.asarray(place, float))

    def widening(self, places: ArrayLike) -> float:
        """How far any of ``places (n, 3)``, or what lies between them, may be off: the margin's.

        Exceeded less than once in a million times at each: the spread grows outwards, so that
        the corners of a box hold all in it.
        """
        return IN_ALL * max(self._spread(place) for place in np.asarray(places, float))

    def _spread(self, place: Array) -> float:
        """Root of the largest eigenvalue of the covariance at a place, m."""
        x, y, z = place - self.centre
        moved = np.hstack([np.eye(3), [[0, z, -y], [-z, 0, x], [y, -x, 0]]])
        there = moved @ self.covariance @ moved.T
        return float(np.sqrt(max(np.linalg.eigvalsh(there)[-1], 0.0)))

    @cached_property
    def worst(self) -> int:
        """Index of the touch with the largest residual."""
        return int(np.argmax(self.residuals))


def odd_one_out(
    touches: Sequence[Touch], T_start: ArrayLike, noise: float
) -> tuple[int, Placement] | None:
    """Return the one touch without which all others fit, and their fit; None if not just one is.

    The others have to prove themselves: a fit of as many touches as needed says nothing.
    """
    found = []
    for k in range(len(touches)):
        rest = [touch for i, touch in enumerate(touches) if i != k]
        try:
            fit = fit_placement(rest, T_start, noise)
        except CannotCheck:
            continue  # too few, or all in a row
        if fit.fits and fit.is_tested and not fit.unproved:
            found.append((k, fit))
    return found[0] if len(found) == 1 else None


def touch_noise(off: float) -> float:
    """Noise in each direction of a touch that is within ``off`` m 95 times in 100."""
    return off / IN_95


def fit_placement(touches: Sequence[Touch], T_start: ArrayLike, noise: float) -> Placement:
    """Fit a placement; ``T_start (4, 4)``: where it stands by the drawing, ``noise``: sigma, m.

    Raises CannotCheck where the touches leave a direction open.
    """
    T = _start(touches, np.asarray(T_start, float))
    tips = np.array([touch.tip for touch in touches]).reshape(-1, 3)
    centre = tips.mean(axis=0) if len(tips) else np.zeros(3)
    scale = float(np.sqrt(((tips - centre) ** 2).sum(axis=1).mean())) if len(tips) else 0.0
    scale = max(scale, 1e-6)
    for _ in range(_STEPS):
        off, J = _rows(touches, T, centre, scale)
        _require_fixed(J)
        step: Array = np.asarray(np.linalg.lstsq(J, -off, rcond=None)[0], dtype=np.float64)
        T = _moved(T, step[:3], step[3:] / scale, centre)
        if np.abs(step).max() < _STILL * max(1.0, scale):
            break
    else:
        raise CannotCheck("the touches fit no placement: are they on the places they name?")
    off, J = _rows(touches, T, centre, scale)
    spare = len(off) - 6
    total = float(off @ off)
    fits = spare == 0 or total <= noise**2 * _largest(spare)
    sigma = max(noise, float(np.sqrt(total / spare))) if spare and not fits else noise
    undo = np.diag([1.0, 1.0, 1.0, *[1 / scale] * 3])
    covariance = sigma**2 * undo @ np.linalg.inv(J.T @ J) @ undo
    lengths = _lengths(touches, off)
    return Placement(
        frozen(T), frozen(lengths), sigma, frozen(covariance), frozen(centre), fits, spare > 0,
        _hardly_fixed(J), _unproved(touches, J),
    )  # fmt: skip


def _unproved(touches: Sequence[Touch], J: Array) -> tuple[int, ...]:
    """Return the touches whose error in some direction moves the placement and leaves no residual.

    An error ``e`` of the rows leaves ``(1 - H) e`` of it, ``H = J (J^T J)^-1 J^T``. Of one touch's
    own rows nothing is left where the block of ``1 - H`` in its columns has a direction of length
    0 (least eigenvalue of ``B^T B = (1 - H)`` in these rows and columns, as 1 - H is a projection).
    """
    H = J @ np.linalg.inv(J.T @ J) @ J.T
    left = np.eye(len(J)) - H
    found, at = [], 0
    for index, touch in enumerate(touches):
        rows = slice(at, at + len(_axes(touch)))
        at = rows.stop
        if np.linalg.eigvalsh(left[rows, rows])[0] < _UNSEEN:
            found.append(index)
    return tuple(found)


def _start(touches: Sequence[Touch], T_start: Array) -> Array:
    """Best fit of the places alone (Kabsch 1976), where there are enough of them."""
    places = [touch for touch in touches if touch.feature is Feature.PLACE]
    if len(places) < 3:
        return T_start
    drawn = np.array([touch.drawn for touch in places], dtype=float)
    tips = np.array([touch.tip for touch in places], dtype=float)
    here, there = drawn.mean(axis=0), tips.mean(axis=0)
    U, size, Vt = np.linalg.svd((drawn - here).T @ (tips - there))
    if size[1] < 1e-9 * max(size[0], 1e-12):
        return T_start  # on one line
    turn = np.diag([1.0, 1.0, np.sign(np.linalg.det(Vt.T @ U.T))])
    R = Vt.T @ turn @ U.T
    return pose(R, there - R @ here)


def _rows(touches: Sequence[Touch], T: Array, centre: Array, scale: float) -> tuple[Array, Array]:
    """Residuals ``(m,)`` and their Jacobian ``(m, 6)``, turns times ``scale``."""
    R, T_inverse = T[:3, :3], inverse(T)
    off, rows = [], []
    for touch in touches:
        here = T_inverse[:3, :3] @ touch.tip + T_inverse[:3, 3] - touch.drawn
        for axis in _axes(touch):
            a = R @ axis
            off.append(float(axis @ here))
            rows.append(np.concatenate([-a, -np.cross(touch.tip - centre, a) / scale]))
    return np.array(off), np.array(rows).reshape(-1, 6)


def _axes(touch: Touch) -> Array:
    """Directions ``(k, 3)`` in the drawing in which a touch fixes it, square to each other."""
    if touch.feature is Feature.PLACE:
        return np.eye(3)
    if touch.direction is None or not np.linalg.norm(touch.direction) > 0:
        raise CannotCheck(f"touch '{touch.name}' on an {touch.feature} needs its direction")
    along: Array = np.asarray(touch.direction, float) / np.linalg.norm(touch.direction)
    if touch.feature is Feature.FACE:
        return along[None]
    across = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    across /= np.linalg.norm(across)
    return np.array([across, np.cross(along, across)])


def _moved(T: Array, shift: Array, turn: Array, centre: Array) -> Array:
    """Return ``T`` shifted, and turned by the vector ``turn`` about ``centre`` (Rodrigues)."""
    angle = float(np.linalg.norm(turn))
    R = np.eye(3)
    if angle > 0:
        x, y, z = turn / angle
        K = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
        R = np.eye(3) + np.sin(angle) * K + (1 - np.cos(angle)) * K @ K
    return pose(R, centre + shift - R @ centre) @ T


def _require_fixed(J: Array) -> None:
    sizes = np.linalg.svd(J, compute_uv=False) if len(J) else np.zeros(1)
    if len(J) < 6 or sizes[-1] < _NOT_AT_ALL * sizes[0]:
        words = _open_words(J)
        raise CannotCheck(
            f"the touches leave open {words}; touch places farther apart, or on other sides"
        )


def _open_words(J: Array) -> str:
    if len(J) == 0:
        return "everything"
    _, sizes, Vt = np.linalg.svd(J, full_matrices=True)
    small = [k for k in range(6) if k >= len(sizes) or sizes[k] < _NOT_AT_ALL * sizes[0]]
    return " and ".join(_in_words(Vt[k]) for k in small)


def _hardly_fixed(J: Array) -> tuple[str, ...]:
    _, sizes, Vt = np.linalg.svd(J)
    return tuple(_in_words(Vt[k]) for k in range(6) if sizes[k] < _HARDLY * sizes[0])


def _in_words(direction: Array) -> str:
    """Name a direction of shift (world axes) or turn: the larger part of it."""
    shift, turn = direction[:3], direction[3:]
    what, part = ("the shift along", shift)
    if np.linalg.norm(turn) > np.linalg.norm(shift):
        what, part = "the turn about", turn
    axis = int(np.argmax(np.abs(part)))
    share = abs(part[axis]) / np.linalg.norm(part)
    if share > np.cos(np.radians(20.0)):
        return f"{what} the world's {'xyz'[axis]}"
    values = " ".join(f"{v:.2f}" for v in part / np.linalg.norm(part) * np.sign(part[axis]))
    return f"{what} ({values}) in the world"


def _lengths(touches: Sequence[Touch], off: Array) -> Array:
    lengths, at = [], 0
    for touch in touches:
        count = len(_axes(touch))
        lengths.append(float(np.linalg.norm(off[at : at + count])))
        at += count
    return np.array(lengths)


def _largest(spare: int) -> float:
    """Chi-square of ``spare`` numbers that is exceeded once in a thousand times.

    By Wilson and Hilferty (1931): within 2 % from two numbers on.
    """
    if spare == 1:
        return 10.828  # their formula is 3 % off here
    third = 2 / (9 * spare)
    return float(spare * (1 - third + _ONCE_IN_A_THOUSAND * np.sqrt(third)) ** 3)

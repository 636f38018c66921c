"""Knots of a stretch of a move as kernels take them, and what their times are on the move."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.clearance.engine import Span
from pathsim.clearance.swept.knots_kernel import LINE, NOT_RISING, knots_of_stretch
from pathsim.kernels.arrays import as_asked
from pathsim.model.linkage import Linkage
from pathsim.motion import MoveTrack
from pathsim.transforms import Array

#: Decimals of times of a stretch, s. The fastest arm goes nanometres meanwhile, and what one
#: stretch leaves of it the next one has.
_TICK = 9
#: All of a move.
WHOLE = Span(0.0, np.inf)


def within(track: MoveTrack, window: Span) -> Span:
    """Return a window counted from the move's start, its ends told to a nanosecond.

    So a move that only starts later, after another one was taught anew, has the same stretches to
    the last bit. A whole move is ``WHOLE``. Of a move whose knots are hardly a nanosecond apart
    all times are told as they are: ticks would leave some of its way out.
    """
    start, end = window
    if start == track.t[0] and end == track.t[-1]:
        return WHOLE
    begin = float(track.t[0])
    if not _is_told_in_ticks(track):
        return Span(start - begin, end - begin)
    return Span(round(start - begin, _TICK), round(end - begin, _TICK))


def _is_told_in_ticks(track: MoveTrack) -> bool:
    """Tell whether all knots are well apart in ticks; kept with the move, whatever it is asked."""
    least = 10 * 10.0**-_TICK
    t = track.t
    return track.kept.once("is told in ticks", lambda: bool((t[1:] - t[:-1] > least).all()))


def window_knots(track: MoveTrack, part: Span, linkage: Linkage) -> tuple[Array, Array]:
    """Joints ``(n, k)`` and times ``(n,)`` from the start of ``part`` (``within``), ends included.

    At least two knots: what stands still stays for a moment that nobody uses.
    """
    t, q, is_rising, _ = knots_within(track, part)
    if is_rising:
        return np.ascontiguousarray(linkage.joints(q)), t
    q, times = _rising(linkage.joints(q), t)
    if len(times) < 2:
        return np.repeat(q[:1], 2, axis=0), np.array([0.0, 1.0])
    return np.ascontiguousarray(q), times


class JointLine(NamedTuple):
    """When an arm on a straight line of joint space is how far along it.

    ``share (m,)``: of the line's whole, from 0 to 1, rising; ``times (m,)`` s, likewise.
    """

    share: Array
    times: Array

    def real(self, times: Array) -> Array:
        """Return when the arm is where it would be at ``times``, going evenly all along."""
        return np.asarray(np.interp(times / self.times[-1], self.share, self.times))


class Knots(NamedTuple):
    """Knots of a stretch: times ``t (n,)`` from its start, axes ``q (n, k)``.

    ``is_rising``: there are several, and all times rise. ``line``: given where these are knots of
    a straight line of joint space, gone along evenly, in place of the move's own.
    """

    t: Array
    q: Array
    is_rising: bool
    line: JointLine | None


#: On a straight line of joint space knots are so far apart, rad or m: a knot costs more than
#: halving the few segments that come near something.
_STEP = float(np.radians(2.0))
#: So far from it is on the line, rad or m: a thousandth of what rounding is allowed.
_OFF_LINE = 1e-12


def knots_within(track: MoveTrack, part: Span) -> Knots:
    """Return the knots of a stretch, its ends included: once for all chains that go through it.

    Of a straight line of joint space as few as it needs: a joint move goes along such a line, and
    has its many knots to tell when it is where while it speeds up and slows down. Where it goes
    needs none of them.
    """
    return track.kept.once(("knots", part), lambda: _knots_within(track, part))


def _knots_within(track: MoveTrack, part: Span) -> Knots:
    ticks = 10.0**_TICK if _is_told_in_ticks(track) else 0.0
    kind, t, q, share, times = knots_of_stretch(
        as_asked(track.t, float), as_asked(track.q, float), part.start, part.end, part == WHOLE,
        ticks, _STEP, _OFF_LINE,
    )  # fmt: skip
    return Knots(t, q, kind != NOT_RISING, JointLine(share, times) if kind == LINE else None)


def _rising(q: Array, times: Array) -> tuple[Array, Array]:
    """Return knots ``q (n, k)`` at ``times (n,)`` from 0 of which no two have one time.

    Ticks and subtraction may make two times one. What stands still then counts once; what moves
    takes a tick more: it may come late, but is never left out.
    """
    steps = times[1:] - times[:-1]
    if (steps > 0).all():
        return q, times
    moves = (q[1:] != q[:-1]).any(axis=1)
    keep = (steps > 0) | moves
    steps = np.where(steps > 0, steps, 10.0**-_TICK)[keep]
    return q[np.append(True, keep)], np.append(0.0, np.cumsum(steps))

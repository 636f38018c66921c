"""What the wire's end really does in a weave, and what an arm that bends makes of it.

Across and along together, with the travel: the largest speed, the largest acceleration, and by how
much the speed leaps where a stroke turns sharply or a dwell begins. With A the amplitude, w the
rate of the weave's phase p (pi a stroke) and v the travel:

=========  =================  =====================  ==========================================
pattern    to the left        ahead of the travel    largest acceleration while it moves
=========  =================  =====================  ==========================================
sine       A sin p            0                      A w^2
zigzag     A (2/pi) asin      0                      0, its corners leap
           (sin p)
circle     A sin p            A (cos p - 1)          A w^2
eight      A sin p            A sin(2 p) / 2         A w^2 17/8, as sin^2 p + 4 sin^2 2p has its
                                                     largest value 289/64 where sin^2 p is 17/32
crescent   A sin p            -A sin^2(p) / 2        A w^2 sqrt 2, at the sides
=========  =================  =====================  ==========================================
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.model import Pattern, Weave
from pathsim.model.weave import TravelInDwell
from pathsim.transforms import Array

#: Looks at one cycle; peaks between two of them are missed by less than a millionth.
_LOOKS = 7200
#: Harmonics above half of so many looks are left out of the bending.
_SAMPLES = 4096
#: A smaller leap of speed than this is none, m/s.
_NO_LEAP = 1e-6
#: Where a cycle can dwell: at the centre, left, at the centre, right.
_QUARTERS = np.pi / 2 * np.arange(5)


@dataclass(frozen=True)
class WeavePeaks:
    """Of a weave with its travel, SI.

    ``speed``: the largest of the wire's end on the part; ``across``: its part square to the seam.
    ``acceleration``: the largest where the speed does not leap. ``corner_leap``, ``dwell_leap``:
    the largest leap of speed at a stroke's sharp turn, and where a dwell begins or ends.
    """

    speed: float
    across: float
    acceleration: float
    corner_leap: float
    dwell_leap: float

    @property
    def leaps(self) -> bool:
        """Tell whether the speed leaps anywhere: no joint follows that wholly."""
        return max(self.corner_leap, self.dwell_leap) > _NO_LEAP


def offsets(pattern: Pattern, phase: Array) -> Array:
    """To the left and ahead ``(n, 2)`` at ``phase (n,)`` rad, in amplitudes."""
    side, ahead = np.sin(phase), np.zeros_like(phase)
    if pattern is Pattern.ZIGZAG:
        side = 2 / np.pi * np.arcsin(side)
    elif pattern is Pattern.CIRCLE:
        ahead = np.cos(phase) - 1
    elif pattern is Pattern.EIGHT:
        ahead = np.sin(2 * phase) / 2
    elif pattern is Pattern.CRESCENT:
        ahead = -(np.sin(phase) ** 2) / 2
    return np.stack([side, ahead], axis=-1)


def rates(pattern: Pattern, phase: Array) -> Array:
    """How fast the offsets change with the phase ``(n, 2)``; of a zigzag just behind it."""
    side, ahead = np.cos(phase), np.zeros_like(phase)
    if pattern is Pattern.ZIGZAG:
        rising = np.cos(phase + 1e-9) > 0
        side = np.where(rising, 2 / np.pi, -2 / np.pi)
    elif pattern is Pattern.CIRCLE:
        ahead = -np.sin(phase)
    elif pattern is Pattern.EIGHT:
        ahead = np.cos(2 * phase)
    elif pattern is Pattern.CRESCENT:
        ahead = -np.sin(2 * phase) / 2
    return np.stack([side, ahead], axis=-1)


def bends(pattern: Pattern, phase: Array) -> Array:
    """How fast those rates change with the phase ``(n, 2)``; none of a zigzag between corners."""
    side, ahead = -np.sin(phase), np.zeros_like(phase)
    if pattern is Pattern.ZIGZAG:
        side = np.zeros_like(phase)
    elif pattern is Pattern.CIRCLE:
        ahead = -np.cos(phase)
    elif pattern is Pattern.EIGHT:
        ahead = -2 * np.sin(2 * phase)
    elif pattern is Pattern.CRESCENT:
        ahead = -np.cos(2 * phase)
    return np.stack([side, ahead], axis=-1)


def weave_peaks(weave: Weave, travel: float) -> WeavePeaks:
    """Return the peaks of a weave at ``travel`` m/s along the seam."""
    w, size = np.pi / weave.stroke, weave.amplitude
    phase = np.linspace(0, 2 * np.pi, _LOOKS + 1)
    way = np.array([0.0, travel])
    speeds = size * w * rates(weave.pattern, phase) + way
    curve = size * w**2 * bends(weave.pattern, phase)
    return WeavePeaks(
        float(np.linalg.norm(speeds, axis=1).max()),
        float(np.abs(speeds[:, 0]).max()),
        float(np.linalg.norm(curve, axis=1).max()),
        _corner_leap(weave, size * w),
        _dwell_leap(weave, size * w, way),
    )


def _corner_leap(weave: Weave, scale: float) -> float:
    """Return the leap of speed at the corners of a zigzag, m/s, where it does not dwell."""
    if weave.pattern is not Pattern.ZIGZAG or min(weave.dwell_left, weave.dwell_right) > 0:
        return 0.0
    return 2 * scale * 2 / np.pi


def _dwell_leap(weave: Weave, scale: float, way: Array) -> float:
    """Return the largest leap of speed, m/s, where the weave stops for a dwell or goes on."""
    stands = weave.travel_in_dwell is TravelInDwell.STANDS
    dwells = (weave.dwell_centre, weave.dwell_left, weave.dwell_centre, weave.dwell_right)
    leaps = [0.0]
    for phase, dwell in zip(_QUARTERS, dwells, strict=False):
        if dwell <= 0:
            continue
        both = np.array([phase - 2e-9, phase])  # a zigzag has another rate on each side of it
        moving = scale * rates(weave.pattern, both) + (way if stands else 0.0)
        leaps.append(float(np.linalg.norm(moving, axis=1).max()))
    return max(leaps)


def one_cycle(weave: Weave, count: int = _SAMPLES) -> Array:
    """Where a weave is across the seam at ``count`` even moments of a real cycle, m."""
    quarter = weave.stroke / 2
    parts = np.array([quarter, weave.dwell_left, quarter, weave.dwell_centre,
                      quarter, weave.dwell_right, quarter, weave.dwell_centre])  # fmt: skip
    turns = np.tile([np.pi / 2, 0.0], 4)
    times = np.concatenate([[0.0], np.cumsum(parts)])
    phases = np.concatenate([[0.0], np.cumsum(turns)])
    at = np.arange(count) / count * times[-1]
    # np.interp wants rising times: parts without length are left out
    keep = np.append(True, np.diff(times) > 0)
    phase = np.interp(at, times[keep], phases[keep])
    return np.asarray(weave.amplitude * offsets(weave.pattern, phase)[:, 0])


def swing(weave: Weave, natural: float, damping: float) -> float:
    """How wide an arm swings across the seam, as a share of the amplitude; 1: as asked for.

    The arm as a second-order system with its first natural frequency, Hz, and damping, in the
    steady state: each harmonic of the real motion, corners and dwells in it, grows by
    1 / (1 - r^2 + 2 i damping r), r its frequency over the natural one.
    """
    asked = one_cycle(weave)
    r = np.arange(len(asked) // 2 + 1) * weave.real_frequency / natural
    grown = np.fft.rfft(asked) / (1 - r**2 + 2j * damping * r)
    return float(np.abs(np.fft.irfft(grown, len(asked))).max() / weave.amplitude)

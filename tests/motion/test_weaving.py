"""The weave by closed form: speeds, pitch, dwell conventions, start and end on the centre."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathsim.model import DwellCounts, Pattern, Weave
from pathsim.motion.weaving import WeaveSchedule


def weave(pattern=Pattern.ZIGZAG, width=0.005, f=2.0, dwell=0.0, counts=DwellCounts.ADDED):
    return Weave("w", pattern, width / 2, f, dwell, dwell, counts)


def lateral_speed(w, duration=2.0):
    t = np.linspace(0, duration, 400001)
    return np.abs(np.diff(WeaveSchedule(w, duration).offsets(t)[0]) / np.diff(t)).max()


# Closed forms: zigzag 2 f W, sine pi f W (mm/s, W = 5 mm).
@pytest.mark.parametrize("f", [1, 2, 3, 4])
def test_peak_lateral_speed(f):
    assert lateral_speed(weave(f=f)) == pytest.approx(2 * f * 0.005, rel=1e-4)
    assert lateral_speed(weave(Pattern.SINE, f=f)) == pytest.approx(np.pi * f * 0.005, rel=1e-4)


# W 5 mm, f 2 Hz, 0.1 s each side, 6.35 mm/s: period, stroke, lateral speed, pitch, cycles/s.
@pytest.mark.parametrize(
    ("counts", "period", "stroke", "speed", "pitch", "cycles"),
    [
        (DwellCounts.INSIDE, 0.5, 0.15, 33.333, 3.175, 2.0),
        (DwellCounts.ADDED, 0.7, 0.25, 20.0, 4.445, 1.428571),
    ],
)
def test_both_dwell_conventions(counts, period, stroke, speed, pitch, cycles):
    w = weave(dwell=0.1, counts=counts)
    assert w.period == pytest.approx(period)
    assert w.stroke == pytest.approx(stroke)
    assert lateral_speed(w) * 1e3 == pytest.approx(speed, abs=1e-2)
    assert w.period * 6.35 == pytest.approx(pitch)
    assert 1 / w.period == pytest.approx(cycles, abs=1e-6)
    # a whole number of cycles later the weave stands where it stood
    schedule = WeaveSchedule(w, 20 * period)
    t = np.linspace(0, period, 500)
    np.testing.assert_allclose(
        schedule.offsets(t)[0], schedule.offsets(t + 7 * period)[0], atol=1e-12
    )


@pytest.mark.parametrize(
    ("pattern", "expected"), [(Pattern.SINE, 10.709633), (Pattern.ZIGZAG, 10.491931)]
)
def test_way_per_cycle(pattern, expected):
    """W 5 mm, pitch 3.175 mm; zigzag: 2 sqrt(W^2 + (p/2)^2)."""
    w = weave(pattern)
    t = np.linspace(0, w.period, 200001)
    x, y = 3.175 * t / w.period, WeaveSchedule(w, w.period).offsets(t)[0] * 1e3
    assert np.hypot(np.diff(x), np.diff(y)).sum() == pytest.approx(expected, abs=1e-4)


weaves = st.builds(
    Weave,
    st.just("w"),
    st.sampled_from(Pattern),
    st.floats(0.0005, 0.01),
    st.floats(0.3, 6.0),
    st.floats(0, 0.08),
    st.floats(0, 0.08),
    st.sampled_from(DwellCounts),
).filter(lambda w: w.stroke > 0.005)


@given(weaves, st.floats(0.05, 20))
def test_laws_of_every_weave(w, duration):
    schedule = WeaveSchedule(w, duration)
    t = np.unique(np.concatenate([np.linspace(0, duration, 3001), schedule.breaks]))
    y = schedule.offsets(t)[0]
    assert abs(y[0]) < 1e-12 and abs(y[-1]) < 1e-9  # on the centre at both ends
    assert np.abs(y).max() <= w.amplitude * (1 + 1e-12)
    peak = {Pattern.ZIGZAG: 1.0, Pattern.SINE: np.pi / 2}[w.pattern] * 2 * w.amplitude / w.stroke
    assert (np.abs(np.diff(y)) <= peak * np.diff(t) * (1 + 1e-9) + 1e-12).all()  # continuous
    assert schedule.half_cycles >= 2 * np.floor(duration / w.period)
    if schedule.half_cycles >= 2:
        assert y.max() == pytest.approx(w.amplitude) and y.min() == pytest.approx(-w.amplitude)

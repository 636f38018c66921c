"""The weave by closed form: speeds, pitch, dwell conventions, start and end on the centre."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathsim.model import DwellCounts, Pattern, Weave
from pathsim.model.weave import TravelInDwell
from pathsim.motion.weaving import WeaveSchedule
from tests.motion.ideal_oracle import offsets


def weave(pattern=Pattern.ZIGZAG, width=0.005, f=2.0, dwell=0.0, counts=DwellCounts.ADDED):
    return Weave("w", pattern, width / 2, f, dwell, dwell, counts)


def lateral_speed(w, duration=2.0):
    t = np.linspace(0, duration, 400001)
    return np.abs(np.diff(offsets(WeaveSchedule(w, duration), t)[0]) / np.diff(t)).max()


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
        offsets(schedule, t)[0], offsets(schedule, t + 7 * period)[0], atol=1e-12
    )


@pytest.mark.parametrize(
    ("pattern", "expected"), [(Pattern.SINE, 10.709633), (Pattern.ZIGZAG, 10.491931)]
)
def test_way_per_cycle(pattern, expected):
    """W 5 mm, pitch 3.175 mm; zigzag: 2 sqrt(W^2 + (p/2)^2)."""
    w = weave(pattern)
    t = np.linspace(0, w.period, 200001)
    x, y = 3.175 * t / w.period, offsets(WeaveSchedule(w, w.period), t)[0] * 1e3
    assert np.hypot(np.diff(x), np.diff(y)).sum() == pytest.approx(expected, abs=1e-4)


def _has_time_to_swing(said):
    """A weave whose dwell takes its whole cycle is refused."""
    _, _, _, frequency, left, right, counts, centre, _ = said
    return counts is DwellCounts.ADDED or 1 / frequency - left - right - 2 * centre > 0.01


weaves = (
    st.tuples(
        st.just("w"),
        st.sampled_from(Pattern),
        st.floats(0.0005, 0.01),
        st.floats(0.3, 6.0),
        st.floats(0, 0.08),
        st.floats(0, 0.08),
        st.sampled_from(DwellCounts),
        st.sampled_from([0.0, 0.03]),
        st.sampled_from(TravelInDwell),
    )
    .filter(_has_time_to_swing)
    .map(lambda said: Weave(*said))
    .filter(lambda w: w.stroke > 0.005)
)


@given(weaves, st.floats(0.05, 20))
def test_laws_of_every_weave(w, travel):
    schedule = WeaveSchedule(w, travel)
    t = np.unique(np.concatenate([np.linspace(0, schedule.duration, 3001), schedule.breaks]))
    y, x = offsets(schedule, t)
    assert abs(y[0]) < 1e-12 and abs(y[-1]) < 1e-9  # on the centre at both ends
    assert abs(x[0]) < 1e-12 and abs(x[-1]) < 1e-9
    assert np.abs(y).max() <= w.amplitude * (1 + 1e-12)
    assert np.abs(x).max() <= w.amplitude * 2 * (1 + 1e-12)
    # continuous: no faster than the closed form says (of the loops pi A / stroke at most twice)
    rate = np.pi if w.pattern is not Pattern.ZIGZAG else 2.0
    limit = rate * w.amplitude / w.stroke * np.diff(t) * (1 + 1e-9) + 1e-12
    assert (np.abs(np.diff(y)) <= limit).all() and (np.abs(np.diff(x)) <= limit).all()
    assert schedule.half_cycles >= 2 * np.floor(travel / w.travelling)
    if schedule.half_cycles >= 2:
        assert y.max() == pytest.approx(w.amplitude) and y.min() == pytest.approx(-w.amplitude)
    # the whole way is gone by, never backwards, and stands still only in dwells
    gone = schedule.travelled(t)
    assert gone[0] == 0 and gone[-1] == pytest.approx(travel) and (np.diff(gone) >= 0).all()
    stands = w.travel_in_dwell is TravelInDwell.STANDS
    extra = schedule.half_cycles * w.dwell / 2 if w.dwell_left == w.dwell_right else None
    if not stands:
        assert schedule.duration == pytest.approx(travel)
    elif extra is not None:
        assert schedule.duration == pytest.approx(travel + extra)
    back = schedule.time_of(np.array([0.3 * travel]))
    assert schedule.travelled(back)[0] == pytest.approx(0.3 * travel, abs=1e-9)


# Shapes in closed form: loops of the circle's radius, the eight's crossing, the crescent's bow.
def test_shapes_of_loops():
    t = np.linspace(0, 1, 4001)
    y, x = offsets(WeaveSchedule(weave(Pattern.CIRCLE, f=1.0), 1.0), t)
    np.testing.assert_allclose(np.hypot(y, x + 0.0025), 0.0025, atol=1e-12)
    y, x = offsets(WeaveSchedule(weave(Pattern.EIGHT, f=1.0), 1.0), t)
    np.testing.assert_allclose(x, y * np.cos(2 * np.pi * t), atol=1e-12)  # sin 2a = 2 sin a cos a
    y, x = offsets(WeaveSchedule(weave(Pattern.CRESCENT, f=1.0), 1.0), t)
    np.testing.assert_allclose(x, -(y**2) / (2 * 0.0025), atol=1e-12)


def test_dwell_at_the_centre_comes_twice_a_cycle():
    w = Weave("w", Pattern.SINE, 0.002, 2.0, 0.1, 0.05, DwellCounts.ADDED, 0.03)
    assert w.period == pytest.approx(0.5 + 0.1 + 0.05 + 2 * 0.03)
    t = np.linspace(0, w.period, 100001)
    y, _ = offsets(WeaveSchedule(w, w.period), t)
    at = lambda place: (np.abs(y - place) < 1e-9).mean() * w.period  # noqa: E731
    assert at(0.002) == pytest.approx(0.1, abs=1e-3)
    assert at(-0.002) == pytest.approx(0.05, abs=1e-3)
    assert at(0.0) == pytest.approx(0.06, abs=1e-3)


def test_pitch_where_the_travel_stands_in_a_dwell():
    """W 5 mm, f 2 Hz, 0.1 s each side, 6.35 mm/s: the way of 0.5 s, in 0.7 s."""
    w = Weave("w", Pattern.ZIGZAG, 0.0025, 2.0, 0.1, 0.1, DwellCounts.ADDED, 0.0,
              TravelInDwell.STANDS)  # fmt: skip
    assert w.pitch(0.00635) == pytest.approx(0.003175)
    assert w.real_frequency == pytest.approx(1.428571, abs=1e-6)


# Peak lateral acceleration of a sine, W 5 mm: 2 pi^2 f^2 W (mm/s^2).
@pytest.mark.parametrize(("f", "expected"), [(1, 98.70), (2, 394.78), (3, 888.26), (4, 1579.14)])
def test_peak_lateral_acceleration(f, expected):
    w = weave(Pattern.SINE, f=f)
    assert w.lateral_acceleration * 1e3 == pytest.approx(expected, abs=5e-3)
    assert w.lateral_speed == pytest.approx(np.pi * f * 0.005)
    t = np.linspace(0, 2, 200001)
    y = offsets(WeaveSchedule(w, 2.0), t)[0]
    seen = np.abs(np.diff(y, 2) / t[1] ** 2).max() * 1e3
    assert seen == pytest.approx(expected, rel=1e-2)

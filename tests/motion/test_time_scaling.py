"""Times of rest-to-rest moves."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathsim.errors import MotionError
from pathsim.motion.time_scaling import SmoothLaw, Trapezoid, law_of, synchronised

positive = st.floats(0.01, 10.0)


@pytest.fixture(scope="module")
def ruckig():
    return pytest.importorskip("ruckig", reason="no wheel for this platform")


# Lynch and Park, Modern Robotics, ch. 9 (from memory); the second run with toppra.
@pytest.mark.parametrize(("h", "v", "a", "expected"), [(1, 0.5, 2, 2.25), (1, 3, 2, 1.414213562)])
def test_closed_form(h, v, a, expected):
    assert Trapezoid(h, v, a).duration == pytest.approx(expected, abs=1e-9)


@given(positive, positive, positive)
def test_duration_against_ruckig(ruckig, h, v, a):
    otg, given_, result = ruckig.Ruckig(1), ruckig.InputParameter(1), ruckig.Trajectory(1)
    given_.current_position, given_.target_position = [0.0], [h]
    given_.max_velocity, given_.max_acceleration = [v], [a]
    given_.max_jerk = [float("inf")]
    otg.calculate(given_, result)
    assert Trapezoid(h, v, a).duration == pytest.approx(result.duration, rel=1e-6)


@given(positive, positive, positive)
def test_law_keeps_its_limits_and_ends(h, v, a):
    law = Trapezoid(h, v, a)
    t = np.linspace(0, law.duration, 401)
    x = law.position(t)
    assert x[0] == 0 and x[-1] == pytest.approx(h, rel=1e-12)
    speed = np.diff(x) / np.diff(t)
    assert speed.min() >= -1e-9 and speed.max() <= v * (1 + 1e-9)
    assert np.abs(np.diff(speed) / np.diff(t)[1:]).max() <= a * (1 + 1e-6)


def test_synchronised_joints_are_as_slow_as_the_slowest():
    h, v, a = np.array([1, 0.5, -0.2]), np.ones(3), np.full(3, 2.0)
    law = synchronised(h, v, a)
    assert law.duration == pytest.approx(Trapezoid(1, 1, 2).duration)
    t = np.linspace(0, law.duration, 100)
    q = law.position(t)[:, None] * h
    assert np.abs(np.diff(q, axis=0) / np.diff(t)[:, None]).max() <= 1 + 1e-9


def test_no_way_takes_no_time():
    assert synchronised(np.zeros(3), np.ones(3), np.ones(3)).duration == 0


def test_refuses_no_speed():
    with pytest.raises(MotionError):
        Trapezoid(1, 0, 1)
    with pytest.raises(MotionError, match="joint speed limits"):
        synchronised(np.ones(2), np.full(2, np.inf), np.ones(2))


# Rest to rest with limited jerk (h, v, a, j): run with ruckig, equal to the closed form.
@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        ((1, 1, 2, 8), 1.75),
        ((0.05, 1, 2, 8), 0.584803548),
        ((0.4, 1, 2, 8), 1.178708781),
        ((1, 0.3, 2, 100), 3.503333333),
    ],
)
def test_jerk_limited_times(limits, expected):
    assert SmoothLaw(*limits).duration == pytest.approx(expected, abs=1e-9)


@given(positive, positive, positive, positive)
def test_jerk_limited_duration_against_ruckig(ruckig, h, v, a, j):
    otg, given_, result = ruckig.Ruckig(1), ruckig.InputParameter(1), ruckig.Trajectory(1)
    given_.current_position, given_.target_position = [0.0], [h]
    given_.max_velocity, given_.max_acceleration, given_.max_jerk = [v], [a], [j]
    otg.calculate(given_, result)
    law = SmoothLaw(h, v, a, j)
    assert law.duration == pytest.approx(result.duration, rel=1e-6)
    for share in (0.1, 0.37, 0.5, 0.8):
        place, _, _ = result.at_time(share * result.duration)
        assert law.position(share * law.duration) == pytest.approx(place[0], abs=2e-6 * h)


@given(positive, positive, positive, positive)
def test_smooth_law_keeps_its_limits(h, v, a, j):
    law = SmoothLaw(h, v, a, j)
    t = np.linspace(0, law.duration, 801)
    x = law.position(t)
    dt = t[1]
    assert x[0] == 0 and x[-1] == pytest.approx(h, rel=1e-12)
    speed = np.diff(x) / dt
    acceleration = np.diff(speed) / dt
    assert speed.min() >= -1e-9 and speed.max() <= v * (1 + 1e-9)
    assert np.abs(acceleration).max() <= a * (1 + 1e-6) + 1e-9
    assert np.abs(np.diff(acceleration) / dt).max() <= j * (1 + 1e-3) + 1e-6 * h / dt**3 * 1e-6
    start, end = law.cruise
    inside = (t[:-1] >= start) & (t[1:] <= end)
    if inside.any():
        assert np.ptp(speed[inside]) <= 1e-9 * v + 1e-12 / dt


def test_joints_of_jerk_limited_moves_keep_their_proportions():
    """h = (1, .5, -.2), v 1, a 2, j 8: own minima 1.75, 1.280776, .928318; together 1.75."""
    h = np.array([1, 0.5, -0.2])
    limits = np.ones(3), np.full(3, 2.0), np.full(3, 8.0)
    own = [SmoothLaw(abs(x), 1, 2, 8).duration for x in h]
    np.testing.assert_allclose(own, [1.75, 1.280776, 0.928318], atol=1e-6)
    assert synchronised(h, *limits).duration == pytest.approx(1.75)
    assert isinstance(law_of(1, 1, 1), Trapezoid)


@given(positive, positive, positive)
def test_time_of_is_the_way_back_from_position(h, v, a):
    way = np.linspace(0, h, 301)
    even, smooth = Trapezoid(h, v, a), SmoothLaw(h, v, a, 5 * a)
    np.testing.assert_allclose(even.position(even.time_of(way)), way, atol=1e-12 * h)
    np.testing.assert_allclose(smooth.position(smooth.time_of(way)), way, atol=1e-6 * h)
    for law in (even, smooth):
        times = law.time_of(way)
        assert (np.diff(times) >= 0).all() and times[0] == 0
        assert times[-1] == pytest.approx(law.duration, rel=1e-12)


def test_no_way_needs_no_time_to_any_of_it():
    np.testing.assert_array_equal(Trapezoid(0.0, 1.0, 1.0).time_of([0.0, 0.0]), [0.0, 0.0])

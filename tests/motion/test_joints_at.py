"""Joint values between knots against numpy's interpolation, axis by axis, to the last bit."""

import numpy as np
import pytest

from pathsim.motion.trajectory import joints_at


@pytest.mark.parametrize("count", [0, 1, 2, 7])
def test_values_are_those_of_interpolation_to_the_last_bit(count):
    rng = np.random.default_rng(count)
    for _ in range(300):
        knots = int(rng.integers(1, 40))
        t = np.cumsum(rng.uniform(1e-5, 1.0, knots))
        q = rng.normal(size=(knots, int(rng.integers(1, 9))))
        between = rng.uniform(t[0] - 0.2, t[-1] + 0.2, count)
        times = np.where(rng.random(count) < 0.4, rng.choice(t, count), between)
        found = joints_at(times, t, q)
        assert found.shape == (count, q.shape[1])
        for j in range(q.shape[1]):
            np.testing.assert_array_equal(found[:, j], np.interp(times, t, q[:, j]))


@pytest.mark.parametrize("times", [[np.nan], [np.nan, 0.5]])
def test_a_time_that_is_no_number_is_no_place_on_the_move(times):
    t, q = np.array([0.0, 1.0, 2.0]), np.arange(6.0).reshape(3, 2)
    found = joints_at(np.array(times), t, q)
    assert np.isnan(found[0]).all() and np.isfinite(found[1:]).all()


def test_what_is_found_may_be_written_to_without_changing_the_knots():
    t, q = np.array([0.0, 1.0]), np.zeros((2, 3))
    for times in ([-1.0], [0.0], [0.5], [1.0], [0.0, 1.0]):
        joints_at(np.array(times), t, q)[:] = 9.0
        assert (q == 0.0).all()

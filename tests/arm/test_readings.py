"""What the display shows against the model's joints."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.arm import ReadingsMap
from pathsim.errors import ArmError
from tests.builders import rail_arm, shop_arm

six = arrays(float, 6, elements=st.floats(-3.0, 3.0))


@given(six, six, arrays(float, 6, elements=st.sampled_from([-1.0, 1.0])), st.floats(-2, 2))
def test_there_and_back(shown, zero, signs, coupling):
    readings = ReadingsMap.of(signs, zero, [(2, 1, coupling)])
    np.testing.assert_allclose(readings.shown(readings.model(shown)), shown, atol=1e-12)
    expected = signs * shown + zero
    expected[2] += coupling * shown[1]
    np.testing.assert_allclose(readings.model(shown), expected, atol=1e-12)


def test_joint_three_against_the_horizon():
    """Joint 2 leans forward and the display of joint 3 stands still: so does the forearm."""
    readings = ReadingsMap.of(np.ones(6), np.zeros(6), [(2, 1, -1.0)])
    before, after = readings.model([0, 0.1, 0.3, 0, 0, 0]), readings.model([0, 0.5, 0.3, 0, 0, 0])
    assert before[1] + before[2] == pytest.approx(after[1] + after[2])


def test_a_rail_is_shown_as_it_is():
    readings = ReadingsMap.of([-1, 1], [0.5, 0]).behind(1)
    np.testing.assert_allclose(readings.model([0.7, 0.1, 0.2]), [0.7, 0.4, 0.2])


def test_what_cannot_be_undone_is_refused():
    with pytest.raises(ArmError, match="cannot be undone"):
        ReadingsMap.of([1, 1], [0, 0], [(0, 1, 1.0), (1, 0, 1.0)])
    with pytest.raises(ArmError, match="finite"):
        ReadingsMap.of([1, np.nan], [0, 0])


signs = arrays(float, 6, elements=st.sampled_from([-1.0, 1.0]))


widths = arrays(float, 6, elements=st.floats(0.1, 3.0))


@given(signs, six, st.sampled_from([0.0, -1.0, 1.0, 0.5]), six, widths)
def test_limits_that_the_display_counts(sign, zero, coupling, low, width):
    """A posture is inside exactly where its readings are; the model's range holds all of those."""
    shown = np.column_stack([low, low + width])
    readings = ReadingsMap.of(sign, zero, [(2, 1, coupling)] if coupling else [])
    arm = shop_arm().with_readings(readings).with_shown_limits(shown)
    rng = np.random.default_rng(0)
    for values in rng.uniform(low - 0.5, low + width + 0.5, (40, 6)):
        q = readings.model(values)
        inside = (values >= shown[:, 0]) & (values <= shown[:, 1])
        # a coupled joint whose own reading is inside may only be past by where the other stands
        others_in = inside[[0, 1, 3, 4, 5]].all()
        assert arm.within_limits(q).all() == inside.all()
        if others_in:
            assert arm.within_limits(q)[2] == inside[2]
    corners = np.array(list(itertools.product(*shown)))
    q = readings.model(corners)
    np.testing.assert_allclose(q.min(axis=0), arm.lower, atol=1e-12)
    np.testing.assert_allclose(q.max(axis=0), arm.upper, atol=1e-12)
    assert [arm.has_moving_limits(j) for j in range(6)] == [
        j == 2 and coupling != 0 for j in range(6)
    ]


def test_limits_of_the_display_go_with_the_readings_and_onto_a_rail():
    shown = np.tile([-1.0, 2.0], (6, 1))
    arm = shop_arm().with_shown_limits(shown)
    turned = arm.with_readings(ReadingsMap.of([1, -1, 1, 1, 1, 1], [0, 0.5, 0, 0, 0, 0]))
    assert (turned.lower[1], turned.upper[1]) == (-1.5, 1.5)
    railed = rail_arm(turned)
    assert (railed.lower[0], railed.upper[0]) == (-2.0, 2.0)
    assert (railed.lower[2], railed.upper[2]) == (-1.5, 1.5)
    assert railed.room(np.zeros(7))[2] == pytest.approx(1.5)


def test_a_joint_without_limits_on_the_display_has_none():
    shown = np.tile([-np.inf, np.inf], (6, 1))
    readings = ReadingsMap.of([1, -1, 1, 1, 1, 1], np.zeros(6), [(2, 1, -1.0)])
    arm = shop_arm().with_readings(readings).with_shown_limits(shown)
    assert not np.isfinite(arm.lower).any() and arm.within_limits(np.full(6, 9.0)).all()


def test_postures_past_a_moving_limit_are_not_offered():
    """Of all postures at a pose those stay whose readings are inside."""
    shown = np.tile([-3.0, 3.0], (6, 1))
    shown[2] = -0.2, 1.4
    readings = ReadingsMap.of(np.ones(6), np.zeros(6), [(2, 1, -1.0)])
    arm = shop_arm().with_readings(readings).with_shown_limits(shown)
    T = arm.pose([0.2, 0.3, 0.2, 0.4, 0.7, -0.3])
    free = shop_arm().inverse(T)
    kept = arm.inverse(T)
    read = readings.shown(free)
    inside = free[((read >= shown[:, 0]) & (read <= shown[:, 1])).all(axis=1)]
    assert 0 < len(kept) == len(inside) < len(free)

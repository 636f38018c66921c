"""What the display shows against the model's joints."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.arm import ReadingsMap
from pathsim.errors import ArmError

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

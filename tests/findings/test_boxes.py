"""Boxes that stand on one another, at the threshold."""

import numpy as np
import pytest

from pathsim.findings.boxes import STANDS, are_borne, in_box, rests


def box_at(low, size=(1.0, 1.0, 1.0)):
    low = np.asarray(low, float)
    return np.array([low, low + size])


@pytest.mark.parametrize(
    ("low", "stands"),
    [((0, 0, 1), True), ((0, 0, 1 + 0.9 * STANDS), True), ((0, 0, 1 + 1.1 * STANDS), False),
     ((0.99, 0.99, 1), True), ((1.01, 0, 1), False), ((0, 0, 0.9), False), ((0, 0, -1), False)],
)  # fmt: skip
def test_what_stands_on_a_box(low, stands):
    assert rests(box_at(low), box_at((0, 0, 0))) is stands


def test_what_is_borne_touches_something_that_reaches_farther_down():
    boxes = np.array([box_at((0, 0, 0)), box_at((0, 0, 1)), box_at((0, 0, 2.1)), box_at((1, 0, 0))])
    np.testing.assert_array_equal(are_borne(boxes), [False, True, False, False])


def test_points_in_a_box_with_a_rim():
    points = np.array([[0.5, 0.5, 0.5], [1.05, 0.5, 0.5]])
    assert in_box(box_at((0, 0, 0)), points, 0.1) and not in_box(box_at((0, 0, 0)), points, 0.01)

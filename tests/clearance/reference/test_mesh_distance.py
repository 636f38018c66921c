"""Exact distances against closed forms, and where the library is known to go wrong."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.transforms import exp_rotation, pose, rotation_about, translation
from tests.builders import ball, box, needle, sheet


def between(a, b, Ta=None, Tb=None):
    A, B = Shape(a), Shape(b)
    A.place(np.eye(4) if Ta is None else Ta)
    B.place(np.eye(4) if Tb is None else Tb)
    return A.distance(B)


def turned(axis, degrees, place):
    return pose(rotation_about(axis, np.radians(degrees)), place)


def test_two_boxes_edge_to_edge():
    # Regression: primitive shapes of the library gave 0.918 for 4 - 2 sqrt(2) = 1.172 less a
    # turn; triangle meshes are exact.
    b = box((2, 2, 2))
    d, *_ = between(b, b, turned([0, 0, 1.0], 45, [0, 0, 0]), turned([0, 1.0, 0], 45, [4, 0, 0]))
    assert d == pytest.approx(4 - 2 * np.sqrt(2), abs=1e-12)


def test_two_boxes_along_an_axis():
    # Regression: primitive shapes gave 3.162 for 3.0.
    b = box((2, 2, 2))
    d, on_a, on_b = between(b, b, None, translation([0, 5, 0]))
    assert d == pytest.approx(3.0, abs=1e-12)
    assert np.linalg.norm(on_b - on_a) == pytest.approx(d)


def test_box_to_box_across_a_corner():
    d, *_ = between(box((2, 2, 2)), box((1, 1, 1)), None, translation([3, 3, 3]))
    assert d == pytest.approx(1.5 * np.sqrt(3), abs=1e-12)


def test_ball_to_box():
    # sphere r 0.5 at (3, 4, 2) to the box of side 2: sqrt(14) - 0.5. The nearest direction
    # meets a facet of the ball, which lies inside the sphere by at most 1 %.
    d, *_ = between(ball(0.5, fineness=4), box((2, 2, 2)), translation([3, 4, 2]))
    true = np.sqrt(14) - 0.5
    assert true <= d <= true + 0.5 * (1 - 0.9985)


# Ericson, Real-Time Collision Detection, ch. 5 (from memory), as needles.
@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (([0, 0, 0], [10, 0, 0]), ([5, -5, 3], [5, 5, 3]), 3.0),
        (([0, 0, 0], [1, 0, 0]), ([2, 1, 0], [2, 3, 0]), np.sqrt(2)),
        (([0, 0, 0], [4, 0, 0]), ([1, 2, 0], [3, 2, 0]), 2.0),
        (([0, 0, 0], [0, 0, 0]), ([3, 4, 0], [3, 4, 0]), 5.0),
    ],
)
def test_needles_are_segments(first, second, expected):
    d, *_ = between(needle(*first), needle(*second))
    assert d == pytest.approx(expected, abs=1e-12)


def test_crossing_is_zero():
    assert between(box((2, 2, 2)), box((2, 2, 2)), None, translation([1.5, 0.1, 0.2]))[0] == 0
    assert between(needle([0, 0, -1], [0, 0, 1]),
                   sheet([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]))[0] == 0  # fmt: skip


@given(
    arrays(float, (2, 3), elements=st.floats(-3, 3)),
    arrays(float, 3, elements=st.floats(-3, 3)),
)
@settings(max_examples=100, deadline=None)
def test_nearest_points_are_the_distance_apart_and_on_the_meshes(vectors, place):
    a, b = box((0.4, 0.6, 1.0)), box((0.5, 0.2, 0.3))
    Ta, Tb = pose(exp_rotation(vectors[0]), [0, 0, 0]), pose(exp_rotation(vectors[1]), place)
    d, on_a, on_b = between(a, b, Ta, Tb)
    if d == 0 or np.linalg.norm(place) < 1.1:
        return  # crossing, or one may lie within the other
    assert np.linalg.norm(on_b - on_a) == pytest.approx(d, abs=1e-9)
    for T, mesh, point in ((Ta, a, on_a), (Tb, b, on_b)):
        local = (point - T[:3, 3]) @ T[:3, :3]
        half = mesh.bounds[1]
        assert (np.abs(local) <= half + 1e-9).all()
        assert np.isclose(np.abs(local), half, atol=1e-9).any()
    # moved apart along the normal the distance grows by as much; moved on, they touch
    normal = (on_b - on_a) / d
    assert between(a, b, Ta, translation(normal * 0.1) @ Tb)[0] >= d + 0.1 - 1e-9
    assert between(a, b, Ta, translation(-normal * (d + 1e-9)) @ Tb)[0] <= 1e-8

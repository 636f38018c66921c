"""Distances of points, segments and triangles against closed forms and python-fcl."""

import numpy as np
import pytest

from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.geometry.triangle_distance import (
    point_segment,
    point_triangle,
    triangle_triangle,
)
from pathsim.model import Mesh
from tests.clearance.swept.cases import how_many

FLAT = ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))


def as_triangle(array):
    return tuple(tuple(map(float, point)) for point in array)


@pytest.mark.parametrize(
    ("point", "expected"),
    [
        ((0.2, 0.2, 0.5), 0.5),  # above the inside
        ((0.5, -2.0, 0.0), 2.0),  # beside a side
        ((-3.0, -4.0, 0.0), 5.0),  # beyond a corner
        ((1.0, 1.0, 0.0), np.sqrt(0.5)),  # beside the long side
        ((0.3, 0.3, 0.0), 0.0),  # in it
    ],
)
def test_point_and_triangle_by_hand(point, expected):
    distance, _, near = point_triangle(point, *FLAT)
    assert distance == pytest.approx(expected, abs=1e-15)
    assert np.linalg.norm(np.subtract(point, near)) == pytest.approx(expected, abs=1e-15)


def test_degenerate_triangles_count_as_what_they_are():
    point = (0.0, 0.0, 1.0)
    spot, line = ((2.0, 0.0, 1.0),) * 3, ((-1.0, 0.0, 0.0), (1.0, 0.0, 0.0), (3.0, 0.0, 0.0))
    assert point_triangle(point, *spot)[0] == pytest.approx(2.0)
    assert point_triangle(point, *line)[0] == pytest.approx(1.0)
    assert triangle_triangle(spot, spot)[0] == 0.0
    assert triangle_triangle(line, ((0.0, 1.0, 1.0),) * 3)[0] == pytest.approx(np.sqrt(2))
    assert point_segment(point, (1.0, 0.0, 1.0), (1.0, 0.0, 1.0))[0] == pytest.approx(1.0)


def test_triangles_that_cross_touch_or_lie_in_each_other_have_no_distance():
    through = ((0.2, 0.2, -1.0), (0.2, 0.2, 1.0), (5.0, 5.0, 1.0))
    inside = ((0.1, 0.1, 0.0), (0.2, 0.1, 0.0), (0.1, 0.2, 0.0))
    at_corner = ((0.0, 0.0, 0.0), (-1.0, 0.0, 1.0), (-1.0, -1.0, 1.0))
    for other in (through, inside, at_corner, FLAT):
        assert triangle_triangle(FLAT, other)[0] == 0.0
        assert triangle_triangle(other, FLAT)[0] == 0.0


def random_pairs(rng, count):
    """Pairs of triangles of all shapes: near, crossing, parallel, long and thin."""
    for k in range(count):
        t, u = rng.normal(0, 1, (2, 3, 3)) * rng.choice([0.01, 0.1, 1.0])
        if k % 4 == 1:
            u[:, 2] = t[:, 2] = 0.1  # in one plane
        if k % 4 == 2:
            t[1] = t[0] + 1e-4 * rng.normal(size=3)  # thin
        if k % 4 == 3:
            u = t[rng.permutation(3)] + rng.normal(0, 0.01, 3)
        yield t, u


def test_triangle_pairs_against_fcl_and_many_points():
    rng = np.random.default_rng(4)
    shares = rng.dirichlet(np.ones(3), 400)
    count, higher = how_many(400, 20000), 0
    for t, u in random_pairs(rng, count):
        distance, p, q = triangle_triangle(as_triangle(t), as_triangle(u))
        assert np.linalg.norm(np.subtract(p, q)) == pytest.approx(distance, abs=1e-12)
        of_points = np.linalg.norm((shares @ t)[:, None] - (shares @ u)[None], axis=-1).min()
        assert distance <= of_points + 1e-9  # no two points are nearer
        a, b = (Shape(Mesh(x, np.array([[0, 1, 2]]))) for x in (t, u))
        theirs = a.distance(b)[0]
        assert distance <= theirs + 1e-6
        # Our points are that near each other, so where theirs is higher it is not the least:
        # met with triangles a ten-thousandth as wide as they are long.
        higher += theirs > distance + 1e-6
    assert higher <= count / 1000

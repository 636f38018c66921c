"""Nearest places on triangles against an independent library and against many places on them."""

import numpy as np
import pytest
from trimesh.triangles import closest_point

from pathsim.geometry.closest_points import closest_points


def of_seed(seed):
    rng = np.random.default_rng([511, seed])
    size = 10.0 ** rng.integers(-3, 3)
    triangles = rng.normal(0, size, (400, 3, 3))
    triangles[:100, 2] = (
        triangles[:100, 0]
        + rng.uniform(-0.01, 1.01, (100, 1)) * (triangles[:100, 1] - triangles[:100, 0])
        + rng.normal(0, 1e-3 * size, (100, 3))
    )  # slivers
    return triangles, rng.normal(0, 2 * size, (400, 3)), size


@pytest.mark.parametrize("seed", range(8))
def test_as_far_as_the_library_says(seed):
    triangles, places, size = of_seed(seed)
    due = np.linalg.norm(closest_point(triangles, places) - places, axis=1)
    found = np.linalg.norm(closest_points(triangles, places) - places, axis=1)
    assert found == pytest.approx(due, abs=1e-9 * size)


@pytest.mark.parametrize("seed", range(4))
def test_on_the_triangle_and_no_other_place_of_it_is_nearer(seed):
    triangles, places, size = of_seed(seed)
    on = closest_points(triangles, places)
    rng = np.random.default_rng(seed)
    shares = rng.dirichlet([0.5, 0.5, 0.5], 300)
    others = np.einsum("sk,nkc->nsc", shares, triangles)
    least = np.linalg.norm(others - places[:, None], axis=2).min(axis=1)
    assert (np.linalg.norm(on - places, axis=1) <= least + 1e-12 * size).all()
    again = closest_points(triangles, on)  # what lies on it is nearest to itself
    assert np.abs(again - on).max() <= 1e-9 * size


def test_triangles_without_area():
    point, line = np.zeros((3, 3)), np.array([[0, 0, 0], [1.0, 0, 0], [0.5, 0, 0]])
    places = np.array([[1.0, 2, 3], [0.3, 1, 0], [7, 1, 0]])
    on = closest_points(np.stack([point, line, line]), places)
    assert on == pytest.approx(np.array([[0, 0, 0], [0.3, 0, 0], [1.0, 0, 0]]))

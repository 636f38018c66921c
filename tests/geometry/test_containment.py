"""Inside without touching."""

import numpy as np
import pytest

from pathsim.geometry.containment import Solid, winding_number
from pathsim.model import Mesh
from tests.builders import ball, box, sheet


def test_winding_number_counts():
    mesh = box((2, 2, 2))
    assert winding_number(np.zeros(3), mesh.vertices, mesh.faces) == pytest.approx(1)
    assert winding_number(np.array([1.5, 0, 0]), mesh.vertices, mesh.faces) == pytest.approx(
        0, abs=1e-12
    )
    inside_out = mesh.faces[:, ::-1]
    assert winding_number(np.zeros(3), mesh.vertices, inside_out) == pytest.approx(-1)


def test_random_points_against_the_ball_itself():
    mesh = ball(1.0, fineness=2)
    rng = np.random.default_rng(0)
    solid = Solid(mesh)
    for point in rng.uniform(-1.2, 1.2, (300, 3)):
        r = np.linalg.norm(point)
        if 0.9 < r < 1.0:
            continue  # between the facets and the sphere
        assert solid.holds(point[None]) == (r < 0.95)


def joined(a, b):
    return Mesh(
        np.vstack([a.vertices, b.vertices]), np.vstack([a.faces, b.faces + len(a.vertices)])
    )


def test_any_component_counts_even_inside_out_or_within_another():
    inner = box((0.2, 0.2, 0.2), (5, 0, 0))
    inside_out = Mesh(inner.vertices, inner.faces[:, ::-1])
    solid = Solid(joined(box((2, 2, 2)), inside_out))
    assert len(solid.witnesses) == 2
    assert solid.holds(np.array([[5.0, 0, 0]]))
    assert solid.holds(np.array([[0.0, 0, 0]]))
    assert not solid.holds(np.array([[3.0, 0, 0]]))
    # two overlapping solids of opposite orientation wind zero times where they overlap
    flipped = box((2, 2, 2), (0.5, 0, 0))
    overlapping = Solid(joined(box((2, 2, 2)), Mesh(flipped.vertices, flipped.faces[:, ::-1])))
    assert overlapping.holds(np.array([[0.2, 0, 0]]))


def test_a_sheet_holds_nothing():
    solid = Solid(sheet([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]))
    assert not solid.holds(np.array([[0, 0, 0.5], [0.3, 0.1, -0.01]]))

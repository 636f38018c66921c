"""Distance of two meshes by their trees, against python-fcl and by laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.clearance.swept.chain_motion import rows_of
from pathsim.geometry.bvh import box_tree, sphere_tree
from pathsim.geometry.surface import PartSurface
from pathsim.geometry.tree_distance import distances, first_nearer
from pathsim.model import Mesh
from pathsim.transforms import exp_rotation, inverse, pose, translation
from tests.builders import ball, box, needle, sheet

FAR = 10.0
MESHES = {
    "box": box((0.2, 0.1, 0.05)),
    "ball": ball(0.08, fineness=2),
    "fine ball": ball(0.12, fineness=4),
    "sheet": sheet([[0, 0, 0], [0.3, 0, 0], [0.3, 0.2, 0.01], [0, 0.2, 0]]),
    "needle": needle([0, 0, 0], [0.1, 0.2, 0.05]),
}


def soup(seed, count=60):
    """Triangles anywhere, thin ones among them."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-0.2, 0.2, (count, 1, 3)) + rng.normal(0, 0.03, (count, 3, 3))
    corners[::7, 2] = corners[::7, 1] + 1e-9
    return Mesh(corners.reshape(-1, 3), np.arange(3 * count).reshape(-1, 3))


def random_poses(seed, count, away):
    rng = np.random.default_rng(seed)
    return pose(exp_rotation(rng.normal(0, 1.5, (count, 3))), rng.normal(0, away, (count, 3)))


def ours(moving, body, T, cap=FAR, enough=0.0):
    return distances(sphere_tree(moving), box_tree(body), rows_of(T), cap, enough)


def plain(moving, body, T):
    one, other = Shape(moving), Shape(body)
    found = []
    for each in T:
        one.place(each)
        found.append(one.gap(other))
    return np.array(found)


@pytest.mark.parametrize("first", MESHES)
@pytest.mark.parametrize("second", MESHES)
def test_distances_are_those_of_python_fcl(first, second):
    moving, body = MESHES[first], MESHES[second]
    T = random_poses(len(first) * 31 + len(second), 60, 0.2)
    expected = plain(moving, body, T)
    found = ours(moving, body, T)
    # Where surfaces cross the library may say a hair: compare what is apart.
    np.testing.assert_allclose(found, expected, atol=1e-7)
    assert (expected > 1e-3).any()


@pytest.mark.parametrize("seed", range(6))
def test_distances_of_triangles_anywhere(seed):
    moving, body = soup(seed), soup(seed + 100)
    T = random_poses(seed, 40, 0.3)
    np.testing.assert_allclose(ours(moving, body, T), plain(moving, body, T), atol=1e-7)


def test_a_box_beside_a_box_is_as_far_as_it_stands():
    for gap in (0.5, 1e-3, 1e-6):
        T = translation([[0.1 + gap, 0.02, 0.03]])
        found = ours(box((0.1, 0.1, 0.1)), box((0.1, 0.3, 0.3)), T)
        assert found == pytest.approx([gap], abs=1e-12)


def test_crossing_surfaces_are_0_apart():
    assert ours(box(), box(), translation([[0.5, 0.1, 0.2]])) == [0.0]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.0, 0.5), st.floats(0.0, 0.5))
def test_cap_and_enough_only_cut_what_is_said(seed, cap, enough):
    moving, body, T = soup(seed % 5), soup(50 + seed % 3), random_poses(seed, 3, 0.4)
    exact = ours(moving, body, T)
    found = ours(moving, body, T, cap, enough)
    np.testing.assert_array_equal(found >= enough, np.minimum(exact, cap) >= enough)
    above = found >= enough
    np.testing.assert_allclose(found[above], np.minimum(exact, cap)[above], atol=1e-15)
    assert (found >= np.minimum(exact, cap) - 1e-15).all()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6))
def test_either_may_be_the_one_that_stands(seed):
    moving, body, T = soup(seed % 7), MESHES["ball"], random_poses(seed, 4, 0.3)
    np.testing.assert_allclose(ours(moving, body, T), ours(body, moving, inverse(T)), atol=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.floats(1e-5, 0.3))
def test_the_first_pose_that_is_nearer_and_where(seed, cap):
    """Its places lie on both surfaces, as far apart as the two are."""
    moving, body, T = soup(seed % 5), MESHES["fine ball"], random_poses(seed, 6, 0.4)
    exact = ours(moving, body, T)
    k, places = first_nearer(sphere_tree(moving), box_tree(body), rows_of(T), cap)
    near = np.flatnonzero(exact < cap)
    if not len(near):
        assert k == -1
        return
    assert k == near[0]
    on_piece, on_body = places.reshape(2, 3)
    assert np.linalg.norm(on_piece - on_body) == pytest.approx(exact[k], abs=1e-9)
    for mesh, place in ((moving.moved(T[k]), on_piece), (body, on_body)):
        assert PartSurface.of(mesh).nearest(place[None]).distance[0] < 1e-7

"""Components by union-find in one pass against a library for graphs, and the plain ones."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pathsim.geometry.bvh import spheres_and_obbs
from pathsim.geometry.bvh_split import split
from pathsim.geometry.components_kernel import components
from pathsim.geometry.containment import Solid
from pathsim.model import Mesh
from tests.builders import ball, box


def scattered(seed):
    """Triangles among a few places, many drawn again, corners of their own, moved a little."""
    rng = np.random.default_rng(seed)
    places = rng.uniform(-1.0, 1.0, (int(rng.integers(4, 60)), 3)).round(2)
    faces = np.array(
        [rng.choice(len(places), 3, replace=False) for _ in range(int(rng.integers(1, 50)))]
    )
    faces = np.vstack([faces, rng.permuted(faces[rng.random(len(faces)) < 0.3], axis=1)])
    corners = places[faces].reshape(-1, 3)
    corners = corners + rng.uniform(-0.2e-6, 0.2e-6, corners.shape)
    mesh = Mesh(corners, np.arange(len(corners)).reshape(-1, 3))  # its arrays are read-only
    return mesh.vertices, mesh.faces, faces


def partition(labels):
    """Labels by the first place that has each: the same for the same parts."""
    _, first, kind = np.unique(labels, return_index=True, return_inverse=True)
    return first[kind]


@given(st.integers(0, 10_000))
def test_parts_are_those_of_a_graph_library(seed):
    corners, apart, faces = scattered(seed)
    found = components(corners, apart)
    assert np.array_equal(partition(found.welded), partition(faces.ravel()))
    rows, columns = faces[:, [0, 1]].ravel(), faces[:, [1, 2]].ravel()
    n = faces.max() + 1
    graph = coo_matrix((np.ones(len(rows)), (rows, columns)), (n, n))
    labels = connected_components(graph, directed=False)[1][faces[:, 0]]
    once = found.part_of >= 0
    assert np.array_equal(partition(found.part_of[once]), partition(labels[once]))
    kinds = {tuple(sorted(face)) for face in faces.tolist()}
    assert {tuple(sorted(face)) for face in faces[once].tolist()} == kinds
    assert once.sum() == len(kinds)  # each drawn once
    for part in range(found.part_of.max() + 1):
        own = corners[apart[found.part_of == part]]
        assert np.array_equal(found.low[part], own.min(axis=(0, 1)))
        assert np.array_equal(found.high[part], own.max(axis=(0, 1)))
    own = corners[apart[once]]
    assert np.array_equal(found.low[-1], own.min(axis=(0, 1)))
    assert np.array_equal(found.high[-1], own.max(axis=(0, 1)))


@given(st.integers(0, 10_000))
def test_parts_are_the_plain_ones(seed):
    corners, apart, _ = scattered(seed)
    mesh = Mesh(corners, apart)
    plain, found = Solid(mesh), components(corners, apart)
    assert np.array_equal(partition(plain._part_of), partition(found.part_of))
    assert np.allclose(np.sort(plain._low, axis=0), np.sort(found.low, axis=0), atol=0)


def test_vertices_are_one_within_half_a_micrometre_alone():
    near, far = 0.49e-6, 2.0e-6
    start = np.array([[0.3, -0.2, 0.9]])
    for step in (np.eye(3), np.ones((1, 3)), np.array([[1, -1, 1]])):
        for way in step:
            corners = np.vstack([start, start + near * way, start + far * way])
            mesh = Mesh(corners, np.array([[0, 1, 2]]))
            assert components(mesh.vertices, mesh.faces).welded.tolist() == [0, 0, 2]


@pytest.mark.parametrize("scale", [1.0, 1e-3, 50.0])
def test_turned_boxes_and_spheres_hold_all_their_triangles(scale):
    """And are about as tight as ones from the covariance by a library."""
    rng = np.random.default_rng(4)
    for mesh in (ball(scale, fineness=2), box((scale, 0.1 * scale, 3.0 * scale)).moved(turned())):
        shifted = mesh.vertices + rng.uniform(-5, 5, 3) * scale
        triangles = shifted[mesh.faces]
        order, links = split(triangles)
        triangles = np.ascontiguousarray(triangles[order])
        sphere, obb = spheres_and_obbs(triangles, links)
        for node, (_, _, first, count) in enumerate(links):
            corners = triangles[first : first + count].reshape(-1, 3) - sphere[node, :3]
            assert (np.linalg.norm(corners, axis=1) <= sphere[node, 3]).all()
            halves = obb[node].reshape(3, 3)
            size = np.linalg.norm(halves, axis=1)
            along = np.abs(corners @ (halves / size[:, None]).T)
            assert (along <= size + 1e-12 * scale).all()
            axes = np.linalg.svd(corners - corners.mean(axis=0), full_matrices=False)[2]
            best = min(np.ptp(corners, axis=0).sum(), np.ptp(corners @ axes.T, axis=0).sum())
            if count > 4:  # few corners may spread alike along many directions
                assert 2 * size.sum() <= best * 1.3 + 1e-6 * scale


def turned():
    a, b = np.radians([30.0, 20.0])
    z = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    x = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    T = np.eye(4)
    T[:3, :3] = z @ x
    return T


def test_a_plate_whose_vertices_share_one_place_along_an_axis_is_one_part():
    n = 50
    x, y = np.meshgrid(np.arange(n) / n, np.arange(n) / n)
    vertices = np.stack([x.ravel(), y.ravel(), np.zeros(n * n)], axis=1)
    corner = (np.arange(n - 1)[:, None] * n + np.arange(n - 1)).ravel()
    faces = np.vstack([
        np.stack([corner, corner + 1, corner + n], axis=1),
        np.stack([corner + 1, corner + n + 1, corner + n], axis=1),
    ])  # fmt: skip
    mesh = Mesh(vertices, faces)
    found = components(mesh.vertices, mesh.faces)
    assert (found.part_of == 0).all()
    assert np.array_equal(found.welded, np.arange(n * n))

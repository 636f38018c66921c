"""Distances from a surface, its sides, and lines that meet it, in closed form and by trimesh."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from trimesh.triangles import closest_point

from pathsim.geometry.containment import Solid
from pathsim.geometry.surface import PartSurface
from pathsim.geometry.triangle_grid import TriangleGrid
from pathsim.model import Mesh
from tests.builders import box, needle, sheet

SHAPES = {
    "ball": trimesh.creation.icosphere(2, 0.05),
    "box": trimesh.creation.box((0.1, 0.2, 0.01)),
    "ring": trimesh.creation.annulus(0.03, 0.05, 0.04),
    "cone": trimesh.creation.cone(0.04, 0.1),
}


def mesh_of(shape):
    return Mesh(shape.vertices, shape.faces)


def places(count, seed=0):
    """Near and far: most within a decimetre, some within a millimetre, some a metre off."""
    rng = np.random.default_rng(seed)
    found = rng.uniform(-0.1, 0.1, (count, 3))
    found[: count // 6] *= 10
    return found


@pytest.mark.parametrize("name", SHAPES)
def test_distance_is_that_of_the_nearest_triangle(name):
    shape = SHAPES[name]
    points = places(300)
    found = PartSurface(mesh_of(shape)).nearest(points)
    tri = shape.triangles
    for point, distance in zip(points, found.distance, strict=True):
        on = closest_point(tri, np.repeat(point[None], len(tri), 0))
        assert distance == pytest.approx(np.linalg.norm(on - point, axis=1).min(), abs=1e-12)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("turned", [False, True])
def test_behind_the_nearest_face_is_inside(name, turned):
    """Also at edges and corners, where several faces are nearest, and drawn the other way round."""
    shape = SHAPES[name]
    mesh = Mesh(shape.vertices, shape.faces[:, ::-1] if turned else shape.faces)
    rng = np.random.default_rng(4)
    near_edges = shape.vertices[rng.integers(0, len(shape.vertices), 200)]
    near_edges = near_edges + rng.normal(0, 0.002, (200, 3))
    points = np.concatenate([places(300, 1), near_edges])
    solid, found = Solid(mesh), PartSurface(mesh).nearest(points)
    inside = [solid.holds(point[None]) for point in points]
    assert 20 < sum(inside) < 480
    assert ((found.height < 0) == inside).all()


@given(st.floats(-0.2, 0.2), st.floats(-0.2, 0.2), st.floats(-0.2, 0.2))
@settings(max_examples=60, deadline=None)
def test_distance_from_a_box_in_closed_form(x, y, z):
    half = np.array([0.05, 0.03, 0.02])
    out = np.abs([x, y, z]) - half
    true = np.linalg.norm(np.maximum(out, 0)) if (out > 0).any() else -out.max()
    found = PartSurface.of(box(2 * half)).nearest(np.array([[x, y, z]]))
    assert found.distance[0] == pytest.approx(true, abs=1e-12)


def test_triangles_without_area_count_as_what_is_left_of_them():
    pin = PartSurface(needle([0, 0, 0], [0, 0, 0.1]))
    found = pin.nearest(np.array([[0.03, 0.04, 0.05], [0.0, 0.0, 0.2], [0.0, 0.003, 0.02]]))
    np.testing.assert_allclose(found.distance, [0.05, 0.1, 0.003], atol=1e-12)
    point = PartSurface(Mesh(np.zeros((3, 3)), np.array([[0, 1, 2]])))
    assert point.nearest(np.array([[0.3, 0.0, 0.4]])).distance == pytest.approx(0.5)


@pytest.mark.parametrize("name", SHAPES)
def test_lines_meet_what_single_rays_meet(name):
    tri = SHAPES[name].triangles
    rng = np.random.default_rng(8)
    starts, ways = places(200, 3), rng.normal(size=(200, 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    found = PartSurface(mesh_of(SHAPES[name])).first_met(starts, ways, 0.5)
    a, e1, e2 = tri[:, 0], tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0]
    for start, way, met in zip(starts, ways, found, strict=True):
        # Moeller and Trumbore, plainly.
        p = np.cross(way, e2)
        det = (e1 * p).sum(1)
        s = start - a
        q = np.cross(s, e1)
        u, v, t = (s * p).sum(1) / det, (q @ way) / det, (e2 * q).sum(1) / det
        hits = t[(u >= 0) & (v >= 0) & (u + v <= 1) & (t >= 0) & (t <= 0.5)]
        assert met == pytest.approx(hits.min(initial=np.inf), abs=1e-12)
    assert np.isfinite(found).sum() > 5


def test_long_lines_are_looked_along_in_few_pieces(monkeypatch):
    """A mesh read in a wrong unit is hundreds of metres large; what it meets is the same."""
    large = PartSurface(box((300.0, 200.0, 100.0)))
    pieces, meeting = [], TriangleGrid.meeting

    def counted(self, low, high):
        pieces.append(len(low))
        return meeting(self, low, high)

    monkeypatch.setattr(TriangleGrid, "meeting", counted)
    starts = np.array([[-200.0, 0, 0], [0, 0, 49.9], [0, 0, 0]])
    ways = np.array([[1.0, 0, 0], [0, 0, 1.0], [0.6, 0.8, 0]])
    found = large.first_met(starts, ways, 400.0)
    np.testing.assert_allclose(found, [50.0, 0.1, 125.0], atol=1e-9)
    assert pieces == [3 * 32]


def test_the_next_face_is_over_the_edge_and_not_on_the_back():
    plate = PartSurface(box((0.2, 0.3, 0.002)))
    at = np.array([[0.0, 0.0, 0.001], [0.09, 0.0, 0.001], [0.09, 0.148, 0.004]])
    found = plate.to_other_face(at, np.tile([0.0, 0.0, 1.0], (3, 1)))
    np.testing.assert_allclose(found, [0.1, 0.01, np.hypot(0.002, 0.003)], atol=1e-12)
    flat = PartSurface(sheet([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]))
    assert np.isinf(flat.to_other_face(np.array([[0.5, 0.5, 0.0]]), np.array([[0, 0, 1.0]])))[0]


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("size", [1.0, 30.0])
def test_the_other_face_is_the_nearest_of_all_that_turn_away(name, size):
    """Also far off, where whole cells of the grid are passed by."""
    shape = SHAPES[name].copy().subdivide_to_size(0.02)
    shape.apply_scale(size)
    rng = np.random.default_rng(9)
    points, face = trimesh.sample.sample_surface(shape, 40, seed=1)
    normals = shape.face_normals[face]
    points = points + normals * rng.uniform(-0.003, 0.003, (40, 1))
    found = PartSurface(mesh_of(shape)).to_other_face(points, normals)
    tri = shape.triangles
    for point, normal, distance in zip(points, normals, found, strict=True):
        other = tri[np.abs(shape.face_normals @ normal) < np.cos(np.radians(20.0))]
        on = closest_point(other, np.repeat(point[None], len(other), 0))
        assert distance == pytest.approx(np.linalg.norm(on - point, axis=1).min(), abs=1e-12)


def test_what_bends_by_less_than_twenty_degrees_goes_on():
    for bend, same in ((15.0, True), (25.0, False)):
        a = np.radians(bend)
        vertices = np.array([[-1, 0, 0], [-1, 1, 0], [0, 0, 0], [0, 1, 0],
                             [np.cos(a), 0, -np.sin(a)], [np.cos(a), 1, -np.sin(a)]])  # fmt: skip
        faces = np.array([[0, 2, 3], [0, 3, 1], [2, 4, 5], [2, 5, 3]])
        found = PartSurface(Mesh(vertices, faces)).to_other_face(
            np.array([[-0.01, 0.5, 0.0]]), np.array([[0.0, 0.0, 1.0]])
        )
        assert np.isinf(found[0]) if same else found[0] == pytest.approx(0.01)


def test_surfaces_are_kept_with_their_mesh_and_go_with_it():
    mesh = box()
    assert PartSurface.of(mesh) is PartSurface.of(mesh)
    assert PartSurface.of(box()) is not PartSurface.of(mesh)

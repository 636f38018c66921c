"""Parts cut square to a seam, against trimesh's sections and lengths in closed form."""

import numpy as np
import pytest
import trimesh

from pathsim.findings.weld_cut import WIDE, cuts_along
from pathsim.model import Body, Mesh, Role
from pathsim.transforms import frozen, pose, rotation_about

Z = np.array([0.0, 0.0, 1.0])


def part(name, shape, T=None):
    T = np.eye(4) if T is None else T
    return Body(name, Role.PART, Mesh(shape.vertices, shape.faces), frozen(T), False, None)


def planes_along(travel, rng):
    """Two axes square to each of ``travel (n, 3)``."""
    first = np.cross(travel, rng.normal(size=travel.shape))
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    return np.stack([first, np.cross(travel, first)], axis=1)


@pytest.mark.parametrize("edge", [1.0, 0.004])
@pytest.mark.parametrize("turned", [False, True])
def test_two_parts_are_cut_as_trimesh_cuts_them(edge, turned):
    """A ball and a cylinder that stand turned in the cell: the same pieces of line, and normals."""
    rng = np.random.default_rng(1)
    shapes = [trimesh.creation.icosphere(2, 0.02), trimesh.creation.cylinder(0.015, 0.04)]
    shapes = [shape.subdivide_to_size(edge) if edge < 1 else shape for shape in shapes]
    axes = rng.normal(size=(2, 3))
    axes /= np.linalg.norm(axes, axis=1, keepdims=True)
    T = [pose(rotation_about(axis, 0.7), rng.uniform(-0.01, 0.01, 3)) for axis in axes]
    tips = rng.uniform(-0.01, 0.01, (7, 3))
    travel = rng.normal(size=(7, 3))
    travel /= np.linalg.norm(travel, axis=1, keepdims=True)
    planes = planes_along(travel, rng)
    drawn = [trimesh.Trimesh(s.vertices, s.faces[:, ::-1] if turned else s.faces) for s in shapes]
    bodies = [part(str(k), shape, T[k]) for k, shape in enumerate(drawn)]
    cuts = cuts_along(bodies, tips, travel, planes)
    for tip, way, plane, cut in zip(tips, travel, planes, cuts, strict=True):
        for k, shape in enumerate(shapes):
            placed = shape.copy().apply_transform(T[k])
            lines, faces = trimesh.intersections.mesh_plane(placed, way, tip, return_faces=True)
            along_it = np.abs(placed.face_normals[faces] @ way) < 0.95
            expected = (lines[along_it] - tip) @ plane.T
            normals = placed.face_normals[faces[along_it]] @ plane.T
            found = cut.bodies == k
            assert found.sum() == len(expected) > 8
            mine, theirs = by_middle(cut.ends[found]), by_middle(expected)
            ends, other = cut.ends[found][mine], expected[theirs]
            swapped = np.where(
                (np.abs(ends - other).max(axis=(1, 2)) < 1e-9)[:, None, None], other, other[:, ::-1]
            )
            np.testing.assert_allclose(ends, swapped, atol=1e-9)
            normals /= np.linalg.norm(normals, axis=1, keepdims=True)
            np.testing.assert_allclose(cut.normals[found][mine], normals[theirs], atol=1e-7)
            # How far the pieces are off: along each of them in a thousand steps.
            share = np.linspace(0, 1, 1001)[:, None, None]
            on = ends[None, :, 0] + share * (ends[:, 1] - ends[:, 0])
            least = np.linalg.norm(on, axis=2).min(axis=0)
            np.testing.assert_allclose(cut.away[found][mine], least, atol=1e-4)
            assert (cut.away[found][mine] <= least + 1e-12).all()


def by_middle(ends):
    """An order of pieces of line ``(n, 2, 2)`` that does not ask which end comes first."""
    middle = np.round(ends.mean(axis=1), 9)
    return np.lexsort((middle[:, 1], middle[:, 0]))


def test_only_what_is_beside_the_wire_is_cut():
    """Of a long plate a piece as wide as is looked at; of one a hand off none."""
    plate = trimesh.creation.box((0.5, 0.5, 0.01)).subdivide_to_size(0.002)
    away = trimesh.creation.box((0.5, 0.5, 0.01)).apply_translation((0, 0, 0.1))
    tips, travel = np.array([[0.01, 0.02, 0.005]]), np.array([[1.0, 0.0, 0.0]])
    planes = np.array([[[0.0, 1.0, 0.0], Z]])
    (cut,) = cuts_along([part("plate", plate), part("away", away)], tips, travel, planes)
    assert set(cut.bodies.tolist()) == {0}
    top = cut.normals[:, 1] > 0.99
    length = np.abs(np.diff(cut.ends[top, :, 0], axis=1)).sum()
    assert 2 * WIDE <= length < 2 * WIDE + 0.005
    assert np.allclose(cut.ends[top, :, 1], 0.0, atol=1e-12)
    assert np.allclose(cut.ends[~top, :, 1], -0.01, atol=1e-12)
    assert cut.away.min() == pytest.approx(0.0, abs=1e-12)


def test_end_faces_and_triangles_without_area_are_no_faces():
    pin = [[-0.1, 0, 0], [0.1, 0, 0], [0, 0, 0]]
    end = [[-1e-4, 0, -1], [1e-4, 0, 1], [-1e-4, 0.5, 0]]
    folded = [[-0.1, -1, 0], [0.1, 1, 0], [0.1, 1, 0]]
    corners = np.array([*pin, *end, *folded])
    mesh = Mesh(0.01 * corners, np.arange(9).reshape(3, 3))
    body = Body("lines", Role.PART, mesh, frozen(np.eye(4)), False, None)
    tips, travel = np.zeros((1, 3)), np.array([[1.0, 0.0, 0.0]])
    (cut,) = cuts_along([body], tips, travel, np.array([[[0.0, 1.0, 0.0], Z]]))
    assert len(cut.ends) == 0
    assert cuts_along([body], tips[:0], travel[:0], np.zeros((0, 2, 3))) == []

"""Inside tests by rays through the tree against the sum of solid angles of the plain ones."""

import numpy as np
import pytest

from pathsim.geometry.bvh import box_tree
from pathsim.geometry.containment import RAYS, Solid
from pathsim.geometry.containment_kernel import FastSolid, ray_counts
from pathsim.geometry.rays import crossings
from pathsim.model import Mesh
from pathsim.transforms import pose, rotation_about
from tests.builders import ball, box, sheet


def fast(mesh):
    return FastSolid(mesh, box_tree(mesh))


def together(*meshes):
    vertices, faces, n = [], [], 0
    for mesh in meshes:
        vertices.append(mesh.vertices)
        faces.append(mesh.faces + n)
        n += len(mesh.vertices)
    return Mesh(np.vstack(vertices), np.vstack(faces))


def inside_out(mesh):
    return Mesh(mesh.vertices, mesh.faces[:, ::-1])


def without(mesh, share, rng):
    return Mesh(mesh.vertices, mesh.faces[rng.random(len(mesh.faces)) > share])


def turned_faces(mesh, rng):
    """Some triangles face the other way: not closed by orientation, though nothing is missing."""
    faces = mesh.faces.copy()
    some = rng.random(len(faces)) < 0.3
    faces[some] = faces[some, ::-1]
    return Mesh(mesh.vertices, faces)


def apart(mesh):
    """Every triangle with corners of its own, as files of triangles alone have them."""
    return Mesh(
        mesh.vertices[mesh.faces].reshape(-1, 3), np.arange(3 * len(mesh.faces)).reshape(-1, 3)
    )


def shapes(rng):
    solid, hollow = ball(1.0, fineness=2), ball(0.5, fineness=1)
    yield "ball", solid, True
    yield "box", box((1.2, 0.8, 1.6)), True
    yield "inside out", inside_out(solid), True
    yield "corners apart", apart(solid), True
    yield "hollow", together(solid, inside_out(hollow)), True
    beside = inside_out(box((1, 1, 1), (0.4, 0.3, 0.2)))
    yield "overlapping", together(box((1, 1, 1)), beside), True
    yield "drawn twice", together(solid, solid), True
    yield "open", without(solid, 0.2, rng), False
    yield "faces turned", turned_faces(solid, rng), False
    yield "sheet", sheet([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]), False
    yield "half and whole", together(without(solid, 0.4, rng), box((0.6, 0.6, 0.6))), False


@pytest.mark.parametrize("seed", range(3))
def test_the_same_as_the_sum_of_solid_angles(seed):
    rng = np.random.default_rng(seed)
    held = 0
    for name, shape, closed in shapes(rng):
        turn = rotation_about([0.6, 0.0, 0.8], rng.uniform(-3, 3))
        mesh = shape.moved(pose(turn, rng.uniform(-0.1, 0.1, 3)))
        plain, quick = Solid(mesh), fast(mesh)
        assert quick._closed[-1] == closed, name
        for point in rng.uniform(-1.1, 1.1, (120, 3)):
            expected = plain.holds(point[None])
            assert quick.holds(point[None]) == expected, (name, point)
            held += expected
        both = rng.uniform(-1.1, 1.1, (5, 3))
        assert quick.holds(both) == plain.holds(both), name
    assert held > 200


def test_rays_are_counted_as_without_a_tree():
    rng = np.random.default_rng(9)
    mesh = together(ball(1.0, fineness=2), box((0.5, 2.5, 0.5)))
    tree = box_tree(mesh)
    part_of = (tree.order >= len(ball(1.0, fineness=2).faces)).astype(np.int64)
    for point in rng.uniform(-1.5, 1.5, (60, 3)):
        signed, crossed = ray_counts(tree, part_of, point, RAYS, 2)
        expected = crossings(point, RAYS, mesh.vertices[mesh.faces], 0.0)
        np.testing.assert_array_equal(crossed[:, 2], expected)
        np.testing.assert_array_equal(crossed[:, :2].sum(axis=1), expected)
        np.testing.assert_array_equal(signed[:, :2].sum(axis=1), signed[:, 2])
        assert (np.abs(signed) <= crossed).all()


def two_cones(d, sides, turn):
    """A ring of ``sides`` corners about ``d``, and a corner at either end of ``d``."""
    u = np.cross(d, [0.0, 0.0, 1.0]) / np.linalg.norm(np.cross(d, [0.0, 0.0, 1.0]))
    angles = turn + 2 * np.pi * np.arange(sides) / sides
    ring = np.outer(np.cos(angles), u) + np.outer(np.sin(angles), np.cross(d, u))
    faces = [(k, (k + 1) % sides, sides) for k in range(sides)]
    faces += [((k + 1) % sides, k, sides + 1) for k in range(sides)]
    return Mesh(np.vstack([0.7 * ring, d, -d]), np.array(faces))


@pytest.mark.parametrize("ray", range(len(RAYS)))
def test_rays_through_corners_do_not_mislead(ray):
    """One ray each goes exactly through the corners where many faces meet; rounding decides.

    Two small balls far off make the box of the whole large: points outside are asked about too.
    """
    rng, misled = np.random.default_rng(ray), 0
    for _ in range(60):
        cones = two_cones(RAYS[ray], int(rng.integers(3, 9)), rng.uniform(0, 7))
        solid = fast(together(cones, ball(0.1, (4, -4, 4), 1), ball(0.1, (-4, 4, -4), 1)))
        assert solid._closed[-1]
        for share in (-3.0, -1.5, 1.5, -0.9, -0.2, 0.0, 0.7):
            point = share * RAYS[ray]
            assert solid.holds(point[None]) == (abs(share) < 1)
            signed, _ = ray_counts(solid._tree, solid._part_in_tree, point, RAYS, 3)
            misled += abs(share) > 1 and signed[ray, -1] != 0
    assert misled > 20


def jar(sides=24):
    """A thick wall round a hollow that a narrow neck joins to the outside: one closed surface."""
    profile = [(0, -1), (1, -1), (1, 1), (0.02, 1), (0.02, 0.8), (0.8, 0.8), (0.8, -0.8), (0, -0.8)]
    angles = 2 * np.pi * np.arange(sides) / sides
    rings = [[(r * np.cos(a), r * np.sin(a), z) for a in angles] for r, z in profile]
    faces = []
    for row in range(len(profile) - 1):
        for k in range(sides):
            a, b = row * sides + k, row * sides + (k + 1) % sides
            faces += [(a, b, b + sides), (a, b + sides, a + sides)]
    corners = np.array(rings).reshape(-1, 3)
    # On the axis a ring is one place: such triangles are none.
    kept = [f for f in faces if len({corners[i].round(9).tobytes() for i in f}) == 3]
    return Mesh(corners, np.array(kept))


def test_the_hollow_of_a_jar_is_outside_though_every_ray_meets_its_wall():
    mesh = jar()
    plain, solid = Solid(mesh), fast(mesh)
    assert solid._closed[-1] and len(solid.witnesses) == 1
    rng = np.random.default_rng(4)
    for point in rng.uniform(-0.5, 0.5, (40, 3)):
        signed, crossed = ray_counts(solid._tree, solid._part_in_tree, point, RAYS, 1)
        assert (crossed[:, 0] >= 2).all() and not signed.any()
        assert not solid.holds(point[None]) and not plain.holds(point[None])
    assert solid.holds(np.array([[0.9, 0.0, 0.0]])) and solid.holds(np.array([[0.0, 0.3, -0.9]]))

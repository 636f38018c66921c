"""The box of a body in the world, whether it is turned or not."""

import numpy as np
import pytest

from pathsim.geometry.mesh import Mesh
from pathsim.model import Body, Role
from pathsim.transforms import frozen, rotation_about


@pytest.mark.parametrize("turn", [0.0, 1e-9, 0.7])
def test_the_box_of_a_body_is_that_of_its_mesh_where_it_stands(turn):
    rng = np.random.default_rng(3)
    # The last vertex is of no triangle: it has no part in the box.
    vertices = np.concatenate([rng.uniform(-1, 1, (30, 3)), [[9.0, 9.0, 9.0]]])
    mesh = Mesh(vertices, rng.permutation(30).reshape(-1, 3))
    T = np.eye(4)
    T[:3, :3], T[:3, 3] = rotation_about(np.array([0.6, 0.0, 0.8]), turn), (0.1, -2.3, 1 / 3)
    body = Body("post", Role.OTHER, mesh, frozen(T), False, None)
    places = vertices[:30] @ T[:3, :3].T + T[:3, 3]
    assert np.allclose(body.bounds, [places.min(axis=0), places.max(axis=0)], atol=1e-15)
    if turn == 0.0:
        assert (body.bounds == mesh.moved(T).bounds).all()

"""What a round zone says of triangles, against places all over them."""

import numpy as np

from pathsim.clearance.joint_zone import RoundZone, axis_distance


def test_no_place_of_a_triangle_contradicts_what_is_said_of_it():
    rng = np.random.default_rng(8)
    zone = RoundZone((0.0, 0.05, 0.08, 0.08, 0.03), -0.05, 0.02)
    radii = np.array([-1.0, *(r if r > 0 else -1.0 for r in zone.radii), -1.0])
    sizes = 10.0 ** rng.uniform(-3, -1, (3000, 1, 1))
    triangles = rng.uniform(-0.1, 0.1, (3000, 1, 3)) + sizes * rng.normal(size=(3000, 3, 3))
    inside, outside = zone.sort(triangles)
    assert min(inside.sum(), outside.sum(), (~inside & ~outside).sum()) > 30
    places = np.einsum("pk,nkj->npj", rng.dirichlet(np.ones(3), 400), triangles)
    layer = np.floor((places[..., 2] - zone.low) / zone.step).astype(int)
    held = np.hypot(*np.moveaxis(places[..., :2], -1, 0)) <= radii[np.clip(layer, -1, 5) + 1]
    assert held[inside].all() and not held[outside].any()


def test_one_percent_of_a_radius_decides():
    zone = RoundZone((0.1,), 0.0, 1.0)
    corners = 0.1 * np.array([[1.0, 0, 5.0], [0.0, 1.0, 5.0], [-1.0, 0, 5.0]])
    for factor, is_inside in ((0.99, True), (1.01, False)):
        inside, outside = zone.sort(corners[None] * [factor, factor, 1.0])
        assert inside[0] == is_inside and not outside[0]
    line = np.array([[1.0, -1.0, 5.0], [1.0, 1.0, 5.0], [2.0, 0.0, 5.0]]) * 0.1
    for factor, is_outside in ((0.99, False), (1.01, True)):
        assert zone.sort(line[None] * [factor, factor, 1.0])[1][0] == is_outside


def test_the_way_to_the_axis_by_hand():
    beside = [[1.0, -1.0], [1.0, 1.0], [2.0, 0.0]]
    around = [[-1.0, -1.0], [1.0, -1.0], [0.0, 2.0]]
    at_corner = [[3.0, 4.0], [6.0, 4.0], [3.0, 8.0]]
    found = axis_distance(np.array([beside, around, around[::-1], at_corner]))
    np.testing.assert_allclose(found, [1.0, 0.0, 0.0, 5.0], atol=1e-15)

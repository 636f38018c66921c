"""Where two things that a joint joins touch by design, and what is left of them outside."""

import numpy as np
import pytest
import trimesh
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pathsim.clearance.joint_zone import FINEST, PAD, RoundZone, bearing, guide_zone, radii_round
from pathsim.geometry.cut_out import cut_out
from pathsim.geometry.solids import capsule
from tests.builders import ball, box
from tests.clearance.lathed import both, held_by, lathed, sampled


def top(zone):
    return zone.low + len(zone.radii) * zone.step


def test_two_flanges_hold_each_other_as_far_as_both_go():
    found = bearing(lathed(0.1, -0.3, 0.0), lathed(0.07, 0.0, 0.2), are_solids=False)
    assert found.zone.radius == pytest.approx(0.07 + PAD, abs=1e-3)
    assert found.zone.low < -PAD and top(found.zone) > PAD
    assert not found.is_parted  # the wider flange goes on beside the zone


def test_equal_flanges_can_never_come_near_each_other_elsewhere():
    assert bearing(lathed(0.1, -0.3, 0.0), lathed(0.1, 0.0, 0.2), are_solids=False).is_parted


@pytest.mark.parametrize("sides", [4, 6, 12, 60])
@pytest.mark.parametrize("radius", [0.0007, 0.005, 0.012, 0.05])
def test_a_bearing_with_few_faces_goes_all_the_way_round_too(radius, sides):
    """A sector that no corner lies in is passed by an edge all the same."""
    pin, eye = lathed(radius, -0.01, 0.01, sides), lathed(radius, -0.02, 0.02, sides)
    found = bearing(pin, eye)
    apothem = radius * np.cos(np.pi / sides)
    assert apothem + PAD - 1e-9 <= found.zone.radius <= radius + PAD + 1e-9


def test_things_far_from_each_other_along_the_axis_hold_nowhere():
    found = bearing(lathed(0.1, -0.3, 0.0), lathed(0.1, 0.02, 0.2), are_solids=False)
    assert found == (None, True)


def test_a_hub_in_a_fork_counts_as_far_as_it_goes_round():
    """The arm of the hub is no bearing: it goes to one side only."""
    hub = both(lathed(0.05, -0.04, 0.04), box((0.5, 0.06, 0.06), (0.25, 0, 0)))
    fork = both(
        lathed(0.06, -0.07, -0.04),
        lathed(0.06, 0.04, 0.07),
        box((0.4, 0.12, 0.03), (-0.25, 0, 0.055)),
    )
    zone = bearing(hub, fork, are_solids=False).zone
    assert zone.radius == pytest.approx(0.06 + PAD, abs=2e-3)
    assert (zone.low, top(zone)) == pytest.approx((-0.046 - PAD, 0.046 + PAD), abs=zone.step)
    assert zone.radii[len(zone.radii) // 2] == 0  # there is nothing but the hub


def test_what_goes_round_at_one_height_exempts_nothing_at_another():
    """A wide plate on a thin column, and a bracket that hangs down beside the column."""
    stand = both(lathed(0.05, -0.5, 0.0), box((0.3, 0.06, 0.06), (0.15, 0, -0.2)))
    plate = both(lathed(0.2, 0.0, 0.03), box((0.03, 0.03, 0.3), (0, 0.15, -0.15)))
    zone = bearing(plate, stand, rests=True).zone
    assert zone.radius == pytest.approx(0.05 + PAD, abs=0.01)
    assert cut_out(plate, zone, FINEST).bounds[0, 2] == pytest.approx(-0.3)


def test_a_plate_rests_on_its_stand_as_far_as_both_go():
    square, round_plate = box((0.3, 0.3, 0.2), (0, 0, -0.1)), lathed(0.25, 0.0, 0.03)
    corner = np.hypot(0.15, 0.15)
    assert bearing(square, round_plate, rests=True).zone.radius == pytest.approx(corner + PAD)
    other = box((0.4, 0.4, 0.05), (0, 0, 0.025))
    assert bearing(square, other, rests=True).zone.radius == pytest.approx(corner + PAD)
    assert bearing(square, other).zone.radius < 0.2 * np.sqrt(2)


def test_solids_for_castings_get_room_to_fold():
    """Two capsules that end in one place meet r / cos(fold / 2) from it."""
    first, second = capsule([0, 0, 0], [0.4, 0, 0], 0.05), capsule([0, 0, 0], [0, 0.4, 0], 0.05)
    one, two = (bearing(first, second, are_solids=s).zone.radius for s in (False, True))
    assert two - PAD == pytest.approx(2 * (one - PAD))
    assert one - PAD == pytest.approx(0.05, rel=0.1)
    for fold in np.radians([30, 90, 115]):
        assert 0.05 / np.cos(fold / 2) <= two


@given(st.floats(0.01, 0.3), st.integers(0, 2**31))
@settings(max_examples=30, deadline=None)
def test_radii_round_are_those_of_the_points(height, seed):
    """Against a net of points all over the surface, 4 mm apart at most."""
    rng = np.random.default_rng(seed)
    turn = trimesh.transformations.random_rotation_matrix(rng.random(3))
    mesh = box(rng.uniform(0.05, 0.4, 3), rng.uniform(-0.1, 0.1, 3)).moved(turn)
    found = radii_round(mesh, -height, height, 9).max(axis=0)
    points, _ = trimesh.remesh.subdivide_to_size(mesh.vertices, mesh.faces, 4e-3)
    radius = np.hypot(points[:, 0], points[:, 1])
    sector = (np.arctan2(points[:, 1], points[:, 0]) / (2 * np.pi) * 36).astype(int) % 36
    within = np.abs(points[:, 2]) <= height
    about = np.abs(points[:, 2]) <= height + 4e-3
    for k in range(36):  # in a sector, or at its border
        near = (sector - k + 1) % 36 <= 2
        # Near the axis a sector is so narrow that no point may have fallen into it.
        assert found[k] <= max(radius[near & about].max(initial=0.0) + 5e-3, 0.05)
        beside = found[[k - 1, k, (k + 1) % 36]].max()
        assert radius[within & (sector == k)].max(initial=0.0) <= beside + 3e-3


def off_triangles(corners, point):
    """How far ``point`` is off the planes of triangles ``(n, 3, 3)`` that hold it, else inf, m.

    By its shares of the corners. The library's nearest place is 12 um off in a triangle that has
    the point in it (seed 26306), so it is no judge of such small lengths.
    """
    a, b, c = np.moveaxis(corners, 1, 0)
    normal = np.cross(b - a, c - a)
    area = (normal**2).sum(axis=1)
    shares = [(np.cross(v - u, point - u) * normal).sum(axis=1) / area
              for u, v in ((b, c), (c, a), (a, b))]  # fmt: skip
    held = np.min(shares, axis=0) > -1e-6
    return np.where(held, np.abs(((point - a) * normal).sum(axis=1)) / np.sqrt(area), np.inf)


@given(st.integers(0, 2**31))
@settings(max_examples=40, deadline=None)
@example(26306)
def test_what_is_cut_out_is_only_what_lies_in_the_zone(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 9))
    zone = RoundZone(tuple(rng.uniform(0.0, 0.2, count)), -rng.uniform(0.01, 0.2), 0.3 / count)
    mesh = ball(0.2, rng.uniform(-0.15, 0.15, 3), 2) if seed % 2 else box(rng.uniform(0.05, 0.5, 3))
    rest = cut_out(mesh, zone, FINEST)
    points = sampled(mesh, 3000, seed % 1000)
    inside = held_by(zone, points)
    if rest is None:
        assert inside.all()
        return
    assert rest.is_cut
    corners = rest.vertices.reshape(-1, 3, 3)
    for point in points[~inside][:60]:  # nothing outside is lost
        assert off_triangles(corners, point).min() < 1e-7
    around = [np.array([0, 0, step]) for step in (-FINEST, 0.0, FINEST)]
    wider = corners + FINEST * corners * [1, 1, 0] / np.maximum(
        np.hypot(corners[..., :1], corners[..., 1:2]), 1e-12
    )
    deep = np.all([held_by(zone, wider + step) for step in around], axis=0).all(axis=1)
    assert not deep.any()  # and of the inside no more than the border is kept


def rail():
    beam, stop = box((0.1, 0.1, 2.0)), box((0.16, 0.04, 0.03), (0, 0.06, 0.9))
    return beam, stop


def test_guides_are_what_runs_all_along_and_an_end_stop_is_not():
    beam, stop = rail()
    slide = box((0.2, 0.04, 0.2), (0, 0.07, 0))
    zone = guide_zone(both(beam, stop), slide)
    assert (
        cut_out(beam, zone, FINEST) is None
        or np.abs(cut_out(beam, zone, FINEST).vertices[:, 2]).min() > 0.99
    )  # but for its end faces
    left = cut_out(stop, zone, FINEST)
    assert left is not None and left.bounds[1, 1] == pytest.approx(0.08)
    assert left.bounds[0, 1] >= 0.05 - PAD - 1e-9


@pytest.mark.parametrize(("length", "is_guide"), [(0.2, False), (1.2, False), (1.8, True)])
def test_a_guide_is_there_on_three_quarters_of_the_way(length, is_guide):
    beam, bracket = box((0.1, 0.1, 2.0)), box((0.16, 0.06, length), (0, 0.08, 0))
    zone = guide_zone(both(beam, bracket), box((0.3, 0.04, 0.2), (0, 0.13, 0)))
    side = np.array([[[0.08, 0.09, 0.0], [0.08, 0.1, 0.0], [0.08, 0.1, 0.01]]])  # of the bracket
    assert zone.sort(side)[0][0] == is_guide


def test_the_longer_one_has_the_guides():
    beam, stop = rail()
    slide = box((0.2, 0.04, 0.2), (0, 0.07, 0))
    a, b = (guide_zone(*order) for order in ((both(beam, stop), slide), (slide, both(beam, stop))))
    np.testing.assert_array_equal(a.sums, b.sums)

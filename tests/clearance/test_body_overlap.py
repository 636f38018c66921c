"""Depths and gaps of standing bodies: closed forms, laws, and another way to sign distances."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim.clearance.body_overlap import (
    Placed,
    deepest_possible,
    gap_of,
    overlap_of,
    share_taken,
)
from pathsim.geometry.containment import winding_number
from pathsim.model import Mesh
from tests.builders import ball, box
from tests.clearance.lathed import both, sampled


def put(mesh, at=(0, 0, 0), turn=None, name="a"):
    T = np.eye(4) if turn is None else np.array(turn)
    T = T.copy()
    T[:3, 3] = at
    return Placed(name, None, mesh, T)


@pytest.mark.parametrize("depth", [0.002, 0.008, 0.02])
def test_a_block_sunk_into_a_table(depth):
    table, block = put(box((1, 1, 0.2))), put(box((0.1, 0.1, 0.1)), (0.2, 0.1, 0.15 - depth))
    found = overlap_of(table, block)
    assert found.depth == pytest.approx(depth, abs=0.1 * depth + 1e-6)
    assert found.sides[:2] == pytest.approx((0.1, 0.1), abs=0.02)
    assert overlap_of(block, table).depth == pytest.approx(found.depth, rel=1e-6)
    assert deepest_possible(table, block) >= found.depth


def test_faces_that_lie_on_each_other_do_not_overlap():
    table, block = put(box((1, 1, 0.2))), put(box((0.1, 0.1, 0.1)), (0.2, 0.1, 0.15))
    assert overlap_of(table, block).depth < 1e-9
    assert gap_of(table, block, 0.005) < 1e-12


def test_one_wholly_inside_the_other():
    large, small = put(box((1, 1, 1))), put(ball(0.05, fineness=2), (0.1, 0, 0))
    assert overlap_of(large, small).depth == pytest.approx(0.45, abs=0.01)
    assert gap_of(large, small, 0.005) == 0


def test_a_pin_is_thin_in_two_directions_however_it_leans():
    pin = trimesh.creation.cylinder(0.01, 0.2, sections=24)
    turn = trimesh.transformations.rotation_matrix(0.7, [1, 2, 0])
    for T in (None, turn):
        found = overlap_of(
            put(box((1, 1, 0.3))), put(Mesh(pin.vertices, pin.faces), (0, 0, 0.1), T)
        )
        assert found.depth > 0.03
        assert found.sides[0] > 0.05 and found.sides[1] <= 0.0201


def whole(body):
    return np.arange(3 * len(body.triangles)).reshape(-1, 3)


@given(st.integers(0, 2**31))
@settings(max_examples=25, deadline=None)
def test_depth_against_winding_numbers_and_nearest_points(seed):
    """Another way to tell inside from outside, and every triangle for the nearest place."""
    rng = np.random.default_rng(seed)
    turns = [trimesh.transformations.random_rotation_matrix(rng.random(3)) for _ in range(2)]
    meshes = [box(rng.uniform(0.05, 0.3, 3)), ball(rng.uniform(0.03, 0.15), fineness=2)]
    one, other = (
        put(m, at, T)
        for m, at, T in zip(meshes, (np.zeros(3), rng.normal(0, 0.1, 3)), turns, strict=True)
    )
    found = overlap_of(one, other).depth
    deepest = 0.0
    for a, b in ((one, other), (other, one)):
        places = sampled(a.mesh.moved(a.T_world_body), 1600, seed % 1000)
        low, high = b.mesh.moved(b.T_world_body).bounds
        places = places[((places >= low) & (places <= high)).all(axis=1)]
        inside = [
            abs(winding_number(place, b.triangles.reshape(-1, 3), whole(b))) > 0.5
            for place in places
        ]
        for place in places[inside]:
            near = trimesh.triangles.closest_point(
                b.triangles, np.repeat(place[None], len(b.triangles), axis=0)
            )
            deepest = max(deepest, float(np.linalg.norm(near - place, axis=1).min()))
    # Depth changes by no more than the way to the next place; random places leave wider gaps.
    assert deepest - 0.015 <= found <= deepest + 0.025
    assert found <= deepest_possible(one, other) + 1e-9


@given(st.floats(0.0, 0.03), st.integers(0, 2**31))
@settings(max_examples=25, deadline=None)
def test_gaps_of_balls(gap, seed):
    rng = np.random.default_rng(seed)
    way = rng.normal(size=3)
    way /= np.linalg.norm(way)
    a, b = put(ball(0.1)), put(ball(0.05), way * (0.15 + gap))
    told = gap_of(a, b, 0.02)
    if gap > 0.0201:
        assert told == np.inf
    elif gap < 0.018:
        assert gap - 1e-9 <= told <= gap + 1.5e-3  # facets lie inside the balls


def test_gaps_tell_contact_wherever_it_is():
    """The middle of where boxes meet is looked at first; contact at the rim counts as well."""
    table = put(box((1, 1, 0.2)))
    stool = both(*(box((0.05, 0.05, 0.4), (x, y, 0.3)) for x in (-0.4, 0.4) for y in (-0.4, 0.4)),
                 box((0.9, 0.9, 0.05), (0, 0, 0.5)))  # fmt: skip
    assert gap_of(table, put(stool), 0.005) == 0
    assert gap_of(table, put(stool, (0, 0, 0.004)), 0.005) == pytest.approx(0.004)
    assert gap_of(table, put(stool, (0, 0, 0.006)), 0.005) == np.inf


def test_how_much_of_a_body_another_takes():
    block = box((0.2, 0.1, 0.1))
    assert share_taken(put(block), put(block)) == 1.0
    assert share_taken(put(block), put(block, (0.3, 0, 0))) == 0.0
    assert 0.3 < share_taken(put(block), put(block, (0.05, 0, 0))) < 0.95

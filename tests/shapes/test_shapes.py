"""Shapes against closed forms: volume, closedness, and that they hold the true solid."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim import shapes
from pathsim.errors import MeshError
from pathsim.shapes import Along, From
from tests.shapes import solids_in_numbers as true

MM = 1e-3
SIZE = st.floats(0.05, 0.6)
PART = st.floats(0.03, 0.3)
RNG = np.random.default_rng(7)


def inside_of(mesh, is_in, count=3000):
    """Points of the true solid in the mesh's box, many of them at its very edge."""
    low, high = mesh.bounds
    points = RNG.uniform(low, high, (count, 3))
    edge = points[:, 1:].copy()
    points = np.vstack([points, np.column_stack([points[:, :1], edge])])
    return points[is_in(points)]


def holds(mesh, points):
    return bool((true.winding(mesh, points) > 0.5).all())


def ring_area(mesh, along):
    return true.volume(mesh) / np.ptp(mesh.vertices[:, "xyz".index(along)])


@settings(max_examples=15, deadline=None)
@given(SIZE, SIZE, SIZE)
def test_a_block_is_itself(a, b, c):
    mesh = shapes.box(a, b, c)
    assert true.volume(mesh) == pytest.approx(a * b * c)
    assert mesh.bounds == pytest.approx(np.array([[-a / 2, -b / 2, 0], [a / 2, b / 2, c]]))


@settings(max_examples=15, deadline=None)
@given(st.floats(0.005, 2.0), SIZE)
def test_a_cylinder_is_round_its_circle(diameter, length):
    mesh = shapes.cylinder(diameter, length)
    n = len(mesh.vertices) // 2
    closed_form = n * (diameter / 2) ** 2 * np.tan(np.pi / n) * length
    assert true.volume(mesh) == pytest.approx(closed_form)
    assert true.volume(mesh) > np.pi * (diameter / 2) ** 2 * length
    farthest = np.hypot(*mesh.vertices[:, :2].T).max()
    assert diameter / 2 < farthest
    if diameter < 0.18:
        assert farthest < diameter / 2 + 1.01e-4
    assert true.is_closed(mesh)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.02, 0.5), st.floats(0.05, 0.95), SIZE)
def test_a_pipe_holds_the_true_pipe(diameter, share, length):
    wall = share * diameter / 2
    mesh = shapes.pipe(diameter, wall, length)
    turn, height = RNG.uniform(0, 2 * np.pi, 100), RNG.uniform(1e-6, length - 1e-6, 100)
    for radius in (diameter / 2 - 1e-9, diameter / 2 - wall + 1e-9):
        points = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), height])
        assert holds(mesh, points)
    n = len(mesh.vertices) // 4
    bore = diameter / 2 - wall
    area = n * (diameter / 2) ** 2 * np.tan(np.pi / n) - n / 2 * bore**2 * np.sin(2 * np.pi / n)
    assert true.volume(mesh) == pytest.approx(area * length)
    assert true.is_closed(mesh)


SECTIONS = {
    "tube": (
        lambda root: shapes.tube(0.1, 0.06, 0.005, 0.4, root=root),
        lambda p, root: true.in_tube(p, 0.1, 0.06, 0.005, root),
        lambda root: 0.1 * 0.06 - 0.09 * 0.05 + 4 * root**2 / 2,
    ),
    "angle": (
        lambda root: shapes.angle(0.08, 0.06, 0.007, 0.4, root=root),
        lambda p, root: true.in_angle(p, 0.08, 0.007, root),
        lambda root: 0.08 * 0.007 + 0.053 * 0.007 + root**2 / 2,
    ),
    "channel": (
        lambda root: shapes.channel(0.12, 0.055, 0.007, 0.009, 0.4, root=root),
        lambda p, root: true.in_channel(p, 0.12, 0.007, 0.009, root),
        lambda root: 0.12 * 0.007 + 2 * 0.009 * 0.048 + 2 * root**2 / 2,
    ),
    "beam": (
        lambda root: shapes.beam(0.1, 0.2, 0.0056, 0.0085, 0.4, root=root),
        lambda p, root: true.in_beam(p, 0.2, 0.0056, 0.0085, root),
        lambda root: 2 * 0.1 * 0.0085 + 0.183 * 0.0056 + 4 * root**2 / 2,
    ),
}


@pytest.mark.parametrize("name", SECTIONS)
@pytest.mark.parametrize("root", [0.0, 0.004, 0.012])
def test_a_section_holds_its_rounded_true_one(name, root):
    make, is_in, area = SECTIONS[name]
    mesh = make(root)
    points = inside_of(mesh, lambda p: is_in(p, root))
    assert len(points) > 200
    assert holds(mesh, points)
    assert ring_area(mesh, "x") == pytest.approx(area(root))
    assert true.is_closed(mesh)
    assert true.has_area(mesh)


@pytest.mark.parametrize("name", SECTIONS)
def test_the_rounding_taken_if_none_is_said_is_not_small(name):
    make, _, area = SECTIONS[name]
    assert ring_area(make(None), "x") > area(0.0)


@pytest.mark.parametrize("name", SECTIONS)
def test_roundings_as_large_as_the_room_still_close(name):
    mesh = SECTIONS[name][0](1.0)
    assert true.is_closed(mesh)
    assert true.volume(mesh) > 0
    assert holds(mesh, inside_of(mesh, lambda p: SECTIONS[name][1](p, 0.004)))


@pytest.mark.parametrize("along", Along)
def test_a_section_runs_where_it_is_said_to_and_stands_on_its_foot(along):
    mesh = shapes.tube(0.1, 0.06, 0.005, 0.4, along)
    size = np.ptp(mesh.vertices, axis=0)
    assert size["xyz".index(along)] == pytest.approx(0.4)
    assert sorted(size) == pytest.approx([0.06, 0.1, 0.4])
    assert mesh.bounds[0, 2] == pytest.approx(0.0)
    assert mesh.bounds.sum(axis=0)[:2] == pytest.approx([0.0, 0.0])
    assert true.volume(mesh) > 0


def test_a_place_may_be_that_of_a_corner():
    mesh = shapes.stood(shapes.box(0.8, 0.6, 0.02), From.CORNER)
    assert mesh.bounds == pytest.approx(np.array([[0, 0, 0], [0.8, 0.6, 0.02]]))


def parts(mesh):
    """Vertices in use by whole pieces that hang together."""
    from trimesh import Trimesh

    return Trimesh(mesh.vertices, mesh.faces, process=False).split(only_watertight=False)


PARTS = {
    "toggle clamp": shapes.toggle_clamp(0.09, 0.12, 0.04, 0.06, 0.05),
    "c-clamp": shapes.c_clamp(0.1, 0.08, 0.02, 0.015, 0.12, 0.06),
    "stop block": shapes.stop_block(0.1, 0.05, 0.08, 0.012),
    "pedestal": shapes.pedestal(0.5, 0.25, 0.4, 0.02),
    "bench": shapes.bench(1.2, 0.8, 0.75, 0.05, 0.08),
    "slotted bench": shapes.bench(1.2, 0.8, 0.75, 0.05, 0.08, 3, 0.016, 0.025),
}


@pytest.mark.parametrize("name", PARTS)
def test_a_shop_part_is_of_closed_pieces_the_right_way_out(name):
    mesh = PARTS[name]
    assert true.is_closed(mesh)
    assert true.has_area(mesh)
    assert all(piece.is_watertight and piece.volume > 0 for piece in parts(mesh))


def test_a_toggle_clamp_holds_foot_handle_arm_and_spindle():
    mesh = PARTS["toggle clamp"]
    assert mesh.bounds == pytest.approx(np.array([[-0.03, -0.02, 0], [0.12, 0.02, 0.12]]))
    points = np.array([[0, 0, 0.115], [0.05, 0.019, 0.051], [0.1, 0.019, 0.001], [0.11, 0, 0.06]])
    assert holds(mesh, points)
    assert true.winding(mesh, np.array([[0.05, 0, 0.049]])) == pytest.approx(0, abs=1e-9)


def test_a_toggle_clamp_ends_where_its_pad_presses():
    mesh = shapes.toggle_clamp(0.09, 0.12, 0.04, 0.06, 0.05, pad_height=0.01)
    below, above = np.array([[0.11, 0, 0.0099]]), np.array([[0.11, 0, 0.0101]])
    assert true.winding(mesh, below) == pytest.approx(0, abs=1e-9)
    assert holds(mesh, above)
    assert true.is_closed(mesh)


def test_a_c_clamp_is_open_between_its_jaws_and_holds_its_screw():
    mesh = PARTS["c-clamp"]
    assert holds(mesh, np.array([[0, 0, 0.001], [0, 0, -0.05], [0, 0, -0.2], [-0.09, 0, -0.05]]))
    assert true.winding(mesh, np.array([[-0.04, 0, -0.05]])) == pytest.approx(0, abs=1e-9)
    assert mesh.bounds[0, 2] == pytest.approx(-0.1 - 0.02 - 0.12)


def test_a_bench_s_slots_are_as_deep_and_wide_as_said():
    plain, slotted = PARTS["bench"], PARTS["slotted bench"]
    assert true.volume(plain) - true.volume(slotted) == pytest.approx(3 * 0.016 * 0.025 * 1.2)
    assert true.volume(plain) == pytest.approx(1.2 * 0.8 * 0.05 + 4 * 0.08**2 * 0.7)
    assert true.winding(slotted, np.array([[0.0, 0.0, 0.74]])) == pytest.approx(0, abs=1e-9)
    assert holds(slotted, np.array([[0.0, 0.0, 0.72], [0.0, 0.01, 0.74], [0.59, 0.39, 0.01]]))


def test_pedestal_and_stop_block_have_their_volumes():
    pedestal = parts(PARTS["pedestal"])
    assert sorted(p.volume for p in pedestal) == pytest.approx(
        sorted([0.4**2 * 0.02, 0.4**2 * 0.02, 0.25**2 * 0.5])
    )
    assert true.volume(PARTS["stop block"]) == pytest.approx(0.05 * (0.1 * 0.012 + 0.068 * 0.012))


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: shapes.tube(0.05, 0.03, 0.015, 0.4), "wall 15 mm; expected less than 15 mm"),
        (lambda: shapes.pipe(0.05, 0.03, 0.4), "half the diameter"),
        (lambda: shapes.beam(0.1, 0.2, 0.1, 0.01, 0.4), "its width"),
        (lambda: shapes.box(0.1, -0.2, 0.1), "width -200 mm"),
        (lambda: shapes.box(0.1, float("nan"), 0.1), "width"),
        (lambda: shapes.bench(1.2, 0.8, 0.75, 0.05, 0.08, 60, 0.01, 0.02), "60 slots"),
        (lambda: shapes.bench(1.2, 0.8, 0.75, 0.05, 0.08, 3, 0.3, 0.02), "slot width"),
    ],
)
def test_numbers_that_make_no_shape_are_refused(make, says):
    with pytest.raises(MeshError, match=says):
        make()

"""The mesh of a bead: closed, of the area that was asked for, and never inside the true solid."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim.model.bead_mesh import STEP, bead_mesh
from pathsim.model.bead_section import BeadSection, area_of_height, area_of_leg
from pathsim.transforms import rotation_about

AREAS = st.floats(2e-6, 80e-6)
AMPLITUDES = st.one_of(st.just(0.0), st.floats(0.0005, 0.008))


def area_of(outline):
    x, y = np.asarray(outline).T
    return abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) / 2


@given(AREAS, AMPLITUDES)
def test_the_discs_have_together_the_share_that_is_stated(area, amplitude):
    """Two discs and what is between: pi r^2 + 4 a r = 1.30^2 pi A, the polygon a little more."""
    s = BeadSection.of(area, amplitude)
    whole = np.pi * s.radius**2 + 4 * amplitude * s.radius
    assert whole == pytest.approx(1.30**2 * np.pi * area, rel=1e-9)
    assert whole < area_of(s.outline()) < 1.01 * whole
    assert s.top == pytest.approx(s.radius * (1 + 0.55 / 1.30), rel=1e-12)


def holds(section, points):
    """Tell whether the discs hold points ``(n, 2)``: left and up of the wire's end."""
    across = np.maximum(np.abs(points[:, 0]) - section.aside, 0.0)
    return np.hypot(across, points[:, 1] - section.centre) <= section.radius * (1 + 1e-9)


def turned(points, angle):
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points) @ np.array([[c, s], [-s, c]])


@given(AREAS, st.floats(45.0, 110.0), st.floats(0.0, 0.1), st.floats(-15.0, 15.0))
def test_it_holds_every_fillet_from_45_to_110_deg(area, between, convexity, off):
    """A corner of ``between`` deg, its face convex by a share of its width, the torch leaning."""
    half = np.radians(between) / 2
    width = 2 * np.sin(half)
    leg = np.sqrt(area / (np.sin(2 * half) / 2 + 2 / 3 * convexity * width**2))
    x = np.linspace(-1, 1, 41)
    face = np.column_stack([
        leg * np.sin(half) * x, leg * (np.cos(half) + convexity * width * (1 - x**2))
    ])  # fmt: skip
    outline = np.vstack([[0.0, 0.0], face])
    assert area_of(outline) == pytest.approx(area, rel=2e-3)
    lean = off if 60 <= between <= 100 else 0.0
    assert holds(BeadSection.of(area), turned(outline, np.radians(lean))).all()


@given(AREAS, st.floats(2.5, 4.0))
def test_it_holds_a_bead_on_a_plate(area, ratio):
    """Half an ellipse, ``ratio`` times as wide as it is high."""
    high = np.sqrt(4 * area / (np.pi * ratio))
    angle = np.linspace(0, np.pi, 91)
    bead = np.column_stack([ratio * high / 2 * np.cos(angle), high * np.sin(angle)])
    assert area_of(bead) == pytest.approx(area, rel=2e-3)
    assert holds(BeadSection.of(area), bead).all()


@given(AREAS, st.floats(0.0005, 0.008), st.just(0.0) | st.floats(2.0, 35.0))
def test_a_woven_bead_is_held_as_a_layer_in_a_groove(area, amplitude, opens):
    """A layer as wide below as the weave, its walls leaning out by ``opens`` deg."""
    slope = np.tan(np.radians(opens))
    high = area / (2 * amplitude)
    if slope > 0:
        high = (np.sqrt(amplitude**2 + slope * area) - amplitude) / slope
    if high > 3 * amplitude:  # the weave reaches its walls: a layer is no slot
        return
    top = amplitude + slope * high
    layer = np.array([[-amplitude, 0.0], [amplitude, 0.0], [top, high], [-top, high]])
    assert area_of(layer) == pytest.approx(area, rel=1e-6)
    assert holds(BeadSection.of(area, amplitude), layer).all()


def test_stated_sizes():
    """A leg of 6 mm is 18 mm2; a layer of 3 mm in a groove of 60 deg 3 x 3 x tan 30 = 5.2 mm2."""
    assert area_of_leg(0.006) == pytest.approx(18e-6)
    assert area_of_height(0.003, 0.0) == pytest.approx(9e-6 * np.tan(np.pi / 6))
    assert area_of_height(0.003, 0.002) == pytest.approx(12e-6 + 9e-6 * np.tan(np.pi / 6))


def arc(radius, sweep, tilt, roll, count):
    """Stations on an arc about z, its section tilted outwards and rolling on the way."""
    theta = np.linspace(0, sweep, count)
    out = np.column_stack([np.cos(theta), np.sin(theta), 0 * theta])
    along = np.column_stack([-np.sin(theta), np.cos(theta), 0 * theta])
    lean = tilt + roll * theta / max(sweep, 1e-9)
    up = np.cos(lean)[:, None] * [0.0, 0.0, 1.0] + np.sin(lean)[:, None] * out
    return radius * out, along, up


@settings(max_examples=30, deadline=None)
@given(AREAS, AMPLITUDES, st.floats(0.004, 0.3), st.floats(0.2, 5.5), st.floats(-0.8, 0.8),
       st.floats(-0.6, 0.6), st.integers(0, 2**31))  # fmt: skip
def test_the_mesh_is_closed_and_holds_the_swept_section(
    area, amplitude, radius, sweep, tilt, roll, seed
):
    """Places of the true sweep, at any share of the way and of the outline, lie within it."""
    section = BeadSection.of(area, amplitude)
    count = int(np.ceil((sweep + abs(roll)) / STEP)) + 1
    turns = (sweep + abs(roll)) / (count - 1)
    mesh = bead_mesh(section, *arc(radius, sweep, tilt, roll, count), turns, radius)
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert solid.is_watertight and solid.is_winding_consistent and solid.volume > 0
    rng = np.random.default_rng(seed)
    shares, angle = rng.uniform(0, 1, 60), rng.uniform(0, 2 * np.pi, 60)
    theta = shares * sweep
    out = np.column_stack([np.cos(theta), np.sin(theta), 0 * theta])
    along = np.column_stack([-np.sin(theta), np.cos(theta), 0 * theta])
    lean = tilt + roll * shares
    up = np.cos(lean)[:, None] * [0.0, 0.0, 1.0] + np.sin(lean)[:, None] * out
    left = np.cross(up, along)
    across = section.radius * np.cos(angle)
    across += np.sign(across) * section.aside
    high = section.centre + section.radius * np.sin(angle)
    places = radius * out + across[:, None] * left + high[:, None] * up
    assert winding(solid, places).min() > 0.5


def winding(solid, places):
    """Winding numbers (van Oosterom and Strackee): how often the faces go round each place."""
    a, b, c = (solid.vertices[solid.faces[:, k]] - places[:, None] for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=2) for v in (a, b, c))
    above = (a * np.cross(b, c)).sum(axis=2)
    below = la * lb * lc
    below += (a * b).sum(2) * lc + (b * c).sum(2) * la + (c * a).sum(2) * lb
    return np.arctan2(above, below).sum(axis=1) / (2 * np.pi)


@given(AREAS, AMPLITUDES, st.floats(0.02, 0.5))
def test_on_a_line_a_cut_has_the_area_of_the_section(area, amplitude, length):
    section = BeadSection.of(area, amplitude)
    along = np.array([[1.0, 0.0, 0.0]] * 2)
    up = np.array([[0.0, 0.0, 1.0]] * 2)
    tips = np.array([[0.0, 0.0, 0.0], [length, 0.0, 0.0]])
    mesh = bead_mesh(section, tips, along, up, 0.0, np.inf)
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert solid.is_watertight
    cut = solid.volume / (length + 2 * section.half_width)
    whole = np.pi * section.radius**2 + 4 * amplitude * section.radius
    assert whole <= cut <= 1.012 * whole
    # and at both ends it goes on by as much as it is wide
    low, high = mesh.bounds
    assert (low[0], high[0]) == pytest.approx((-section.half_width, length + section.half_width))


def test_it_is_the_same_mesh_where_nothing_has_changed():
    """Trees and answers of an engine are kept by mesh."""
    section = BeadSection.of(2e-5)
    made = [bead_mesh(section, *arc(0.1, 1.0, 0.0, 0.0, 20), 0.06, 0.1) for _ in range(2)]
    assert made[0] is made[1]


def test_a_tight_arc_is_held_as_a_whole():
    """An arc of 4 mm has rings that cut each other: one convex solid stands for them."""
    section = BeadSection.of(2e-5)
    mesh = bead_mesh(section, *arc(0.004, 3.0, 0.3, 0.0, 60), 0.06, 0.004)
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces)
    assert solid.is_watertight and solid.is_convex and solid.volume > 0
    R = rotation_about(np.array([0.0, 0.0, 1.0]), 1.0)
    assert winding(solid, (R @ [0.004, 0.0, 0.0])[None])[0] > 0.5

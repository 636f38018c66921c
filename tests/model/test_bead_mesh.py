"""The mesh of a bead: closed, of the area that was asked for, and never inside the true solid."""

import numpy as np
import pytest
import trimesh
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pathsim.model.bead_mesh import STEP, bead_mesh, together
from pathsim.model.bead_section import BeadSection, area_of_height, area_of_leg
from pathsim.transforms import rotation_about

AREAS = st.floats(2e-6, 80e-6)
AMPLITUDES = st.one_of(st.just(0.0), st.floats(0.0005, 0.008))


def area_of(outline):
    x, y = np.asarray(outline).T
    return abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) / 2


def support(section, angle):
    """How far the outline reaches in a direction, by the discs that are stated."""
    a, area = section.aside, section.area
    reach = 0.55 * np.sqrt(area) * np.sin(angle) + 1.30 * np.sqrt(area)
    r = section.radius
    return np.maximum(reach, a * abs(np.cos(angle)) + r * (1 + 0.55 / 1.30 * np.sin(angle)))


@given(AREAS, AMPLITUDES)
def test_the_discs_have_together_the_share_that_is_stated(area, amplitude):
    """Two discs and what is between: pi r^2 + 4 a r = 1.30^2 pi A; the outline is little more.

    Of the area by Cauchy: half the integral of h^2 - h'^2 over all directions.
    """
    s = BeadSection.of(area, amplitude)
    whole = np.pi * s.radius**2 + 4 * amplitude * s.radius
    assert whole == pytest.approx(1.30**2 * np.pi * area, rel=1e-9)
    angle = np.linspace(0, 2 * np.pi, 4001)
    h = support(s, angle)
    drawn = (s.outline() @ np.array([np.cos(angle), np.sin(angle)])).max(axis=0)
    assert (drawn >= h * (1 - 1e-9)).all()
    hull = ((h**2 - np.gradient(h, angle) ** 2)[:-1]).sum() * (angle[1] - angle[0]) / 2
    assert 0.999 * hull < area_of(s.outline()) < 1.012 * hull
    assert s.top == pytest.approx(1.85 * np.sqrt(area), rel=1e-12)  # never lower than unwoven
    assert s.half_width == pytest.approx(amplitude + s.radius, rel=1e-12)


@given(AREAS, st.floats(0.0005, 0.012), st.floats(0, 1))
def test_it_holds_the_outline_of_every_lesser_spread(area, amplitude, share):
    """What the text of the module derives: the support is convex in the spread."""
    angle = np.linspace(0, 2 * np.pi, 721)
    x = share * amplitude
    r = BeadSection.of(area, x).radius
    lesser = x * abs(np.cos(angle)) + r * (1 + 0.55 / 1.30 * np.sin(angle))
    assert (lesser <= support(BeadSection.of(area, amplitude), angle) * (1 + 1e-9)).all()


def holds(section, points):
    """Tell whether the outline holds points ``(n, 2)``: left and up of the wire's end."""
    angle = np.linspace(0, 2 * np.pi, 1441)
    reach = np.asarray(points) @ np.array([np.cos(angle), np.sin(angle)])
    return (reach <= support(section, angle) * (1 + 1e-9)).all(axis=1)


def turned(points, angle):
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points) @ np.array([[c, s], [-s, c]])


@given(AREAS, st.floats(40.0, 110.0), st.floats(0.0, 0.1), st.floats(-15.0, 15.0))
def test_it_holds_every_fillet_from_40_to_110_deg(area, between, convexity, off):
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


@given(AREAS, st.floats(40.0, 110.0), st.floats(0.0, 4.0), st.floats(0.0, 2.0), st.floats(0.0, 0.1))
def test_what_fills_a_groove_is_held_whether_the_weave_has_room_or_not(
    area, opens, gap, more, convexity
):
    """A V of ``opens`` deg on a root ``gap`` wide, the weave as wide as that or ``more``.

    The fill's height comes from the area integral of the groove's width over its height.
    """
    slope, root = np.tan(np.radians(opens / 2)), gap / 2 * np.sqrt(area)
    amplitude = root + more * np.sqrt(area)
    z = np.linspace(0, 2 * np.sqrt(area), 4001)
    wide = 2 * (root + slope * z)
    filled = np.concatenate([[0.0], np.cumsum((wide[1:] + wide[:-1]) / 2 * np.diff(z))])
    x = np.linspace(-1, 1, 41)

    def fill(high):
        top = root + slope * high
        face = np.column_stack([top * x, high + 2 * convexity * top * (1 - x**2)])
        return np.vstack([[-root, 0.0], [root, 0.0], face[::-1]]), (4 * convexity / 3) * 2 * top**2

    # the convex face has its share of the area: what is left for the groove is filled flat
    assume(fill(0.0)[1] < area)  # over a wide root the face alone may have more
    high = np.interp(area, filled, z)
    for _ in range(60):
        high = np.interp(area - fill(high)[1], filled, z)
    outline, _ = fill(high)
    assert area_of(outline) == pytest.approx(area, rel=1e-2)
    assert holds(BeadSection.of(area, amplitude), outline).all()


def test_a_wide_weave_in_a_narrow_groove_stood_higher_than_the_weave_alone_says():
    """By hand: 40 mm2 in a V of 45 deg is sqrt(40 / tan 22.5) = 9.83 mm high.

    Two discs for a weave of 4 mm: pi r^2 + 16 r = 212.4 gives r = 6.06 mm, 8.62 mm high.
    """
    section = BeadSection.of(40e-6, 0.004)
    assert section.radius == pytest.approx(6.06e-3, abs=1e-5)
    high = np.sqrt(40e-6 / np.tan(np.radians(22.5)))
    assert high == pytest.approx(9.83e-3, abs=1e-5)
    assert section.radius * (1 + 0.55 / 1.30) == pytest.approx(8.62e-3, abs=1e-5)
    assert section.top == pytest.approx(1.85 * np.sqrt(40e-6))  # 11.70 mm
    assert section.top > high


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
    high = 0.55 / 1.30 * section.radius + section.radius * np.sin(angle)
    half = len(angle) // 2  # some round the disc over the line
    across[:half] = section.middle * np.cos(angle[:half])
    high[:half] = section.centre + section.middle * np.sin(angle[:half])
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
    whole = area_of(section.outline())
    assert cut == pytest.approx(whole, rel=2e-3)
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


def test_nothing_of_a_bead_is_kept_on_disk():
    """Another one takes its place with the next point that is taught."""
    section = BeadSection.of(20e-6, 0.002)
    n = 4
    tips = np.stack([np.linspace(0.0, 0.01, n), np.zeros(n), np.zeros(n)], axis=1)
    along, up = np.tile([1.0, 0.0, 0.0], (n, 1)), np.tile([0.0, 0.0, 1.0], (n, 1))
    straight = bead_mesh(section, tips, along, up, 0.0, np.inf)
    tight = bead_mesh(section, tips, along, up, 0.01, 1e-4)
    for mesh in (straight, tight, together([straight, tight])):
        assert mesh.is_fleeting

"""Coordinated motion: part and torch move together, the weld kept in the position asked for."""

import dataclasses
import statistics
import time

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from pathsim.check import check
from pathsim.errors import CellError
from pathsim.findings.kinds import FindingKind
from pathsim.model import Point
from pathsim.model.wanted_position import WantedPosition
from pathsim.motion import plan_program
from pathsim.motion.trajectory import PATH_ERROR
from pathsim.transforms import inverse, pose
from tests.builders import cell, linear, seam, shop_arm, turning_table

TILT = ((0.95, 0.0, 0.0), (0.0, 1.0, 0.0))
TABLE = turning_table((0.95, 0.0, 0.1), tilt=TILT)
SPEED = 0.006
RADIUS = 0.06


def torch_at(tip, out, travel):
    """``T_part_tcp``: at a place of the part, the torch's body along ``out``."""
    z = -np.asarray(out) / np.linalg.norm(out)
    x = np.asarray(travel) - (travel @ z) * z
    x /= np.linalg.norm(x)
    return pose(np.column_stack([x, np.cross(z, x), z]), tip)


def on_ring(angle, out=(1.0, 1.0), radius=RADIUS):
    """A fillet round a pipe on the table: ``out`` is how far the torch is off the two faces."""
    radial = np.array([np.cos(angle), np.sin(angle), 0.0])
    travel = np.array([-np.sin(angle), np.cos(angle), 0.0])
    tip = np.array([0.95, 0.0, 0.1]) + radius * radial
    return torch_at(tip, out[0] * radial + out[1] * np.array([0, 0, 1.0]), travel)


def taught(c, name, T_part_tcp, values):
    """The cell with a point taught where the table stands at ``values``."""
    T_world = c.table.motion(values) @ T_part_tcp
    return c.with_point(name, T_world_tcp=T_world, held=values)


def arm_of_shop():
    limits = np.tile([-2 * np.pi, 2 * np.pi], (6, 1))
    return shop_arm(limits)


def coordinated(position, ends, values, via=None, table=TABLE):
    """A seam over ``ends`` (poses on the part), the table taught at ``values`` at each."""
    start = np.array([0.1, 0.3, -0.1, 0.1, 0.9, 0.2])
    count = len(table.axes)
    move = dataclasses.replace(seam("end", SPEED, via=via), position=position)
    c = cell({"home": np.append(start, np.zeros(count))}, [linear("start"), move],
             arm=arm_of_shop(), table=table)  # fmt: skip
    names = ["start", *([via] if via else []), "end"]
    for name, T, value in zip(names, ends, values, strict=True):
        c = taught(c, name, T, np.asarray(value, float))
    return c.with_program("start", c.program.moves[1])


def round_a_pipe(position=WantedPosition.PA, turn=2.0, tilt=np.pi / 4, out=(1.0, 1.0)):
    """A ring from the side of the arm on, which the table turns under the torch."""
    angles = [np.pi, np.pi + turn / 2, np.pi + turn]
    values = [[tilt, -(a - np.pi)] for a in angles]
    return coordinated(position, [on_ring(a, out) for a in angles], values, via="half way")


def seen(c, count=200):
    """Axes at ``count`` moments of the seam, evenly in time, and how far it is."""
    (track,) = plan_program(c).tracks
    assert track.fault is None
    s = np.linspace(0, 1, count)
    return track, s, track.q_at(track.travel_start + s * track.travel_seconds)


def weld_frames(c, q):
    """Travel, left and line out of the weld in the world, from the torch and its way."""
    tips = c.tips_on_part(q)
    travel = np.gradient(tips, axis=0)
    travel /= np.linalg.norm(travel, axis=1)[:, None]
    T_table = c.table_motion(q)
    travel = (T_table[:, :3, :3] @ travel[..., None])[..., 0]
    e = -c.tool_poses(q)[:, :3, 2]
    out = e - (e * travel).sum(axis=1)[:, None] * travel
    out /= np.linalg.norm(out, axis=1)[:, None]
    return travel, np.cross(out, travel), out


def test_a_pipe_is_kept_flat_and_the_table_does_what_geometry_says():
    c = round_a_pipe()
    _, s, q = seen(c)
    np.testing.assert_allclose(q[:, 6], np.pi / 4, atol=2e-4)
    np.testing.assert_allclose(q[:, 7], -2.0 * s, atol=5e-4)
    _, _, out = weld_frames(c, q)
    assert out[:, 2].min() > np.cos(np.radians(0.5))


@pytest.mark.parametrize("position", list(WantedPosition))
@pytest.mark.parametrize("turn", [2.0, 4.0])
def test_the_surface_goes_by_at_the_stated_speed(position, turn):
    c = round_a_pipe(position, turn)
    track, _, q = seen(c)
    way = np.linalg.norm(np.diff(c.tips_on_part(q), axis=0), axis=1)
    np.testing.assert_allclose(way * 199 / track.travel_seconds, SPEED, rtol=5e-3)
    assert track.travel_seconds == pytest.approx(RADIUS * turn / SPEED, rel=1e-6)


@pytest.mark.parametrize(
    ("position", "tilt", "turn"),
    [
        (WantedPosition.PA, 0.5, 2.5),
        (WantedPosition.PA, 0.9, 2.5),
        (WantedPosition.PB, 0.2, 2.5),
        (WantedPosition.PB, 0.2, -2.5),
        (WantedPosition.AT_START, 0.3, 2.5),
    ],
)
def test_the_table_goes_as_an_independent_inverse_says(position, tilt, turn):
    """Each place is solved alone, by another library's rotations and another search."""
    c = round_a_pipe(position, turn, tilt, out=(0.8, 1.2))
    _, s, q = seen(c, 41)
    radial = np.array([[np.cos(np.pi + turn * x), np.sin(np.pi + turn * x), 0] for x in s])
    travel = np.sign(turn) * np.cross([0, 0, 1.0], radial)
    out = 0.8 * radial + 1.2 * np.array([0, 0, 1.0])
    out /= np.linalg.norm(out, axis=1)[:, None]
    left = np.cross(out, travel)

    def turned(values, vector):
        about_y = Rotation.from_rotvec([0, values[0], 0])
        return (about_y * Rotation.from_rotvec([0, 0, values[1]])).apply(vector)

    def heights(values, k):
        return [turned(values, side[k])[2] for side in (travel, left, out)]

    start = q[0, 6:]
    wanted = heights(start, 0)
    if position is not WantedPosition.AT_START:
        r = {WantedPosition.PA: np.pi / 2, WantedPosition.PB: np.pi / 4}[position]
        wanted = [0.0, np.sign(wanted[1]) * np.cos(r), np.sin(r)]
    found = []
    for k in range(len(s)):
        guess = start + s[k] * (q[-1, 6:] - start)
        found.append(least_squares(lambda v, k=k: np.subtract(heights(v, k), wanted), guess,
                                   xtol=1e-14, ftol=1e-14, gtol=1e-14).x)  # fmt: skip
    found = np.array(found)
    # The ends are as taught; what they are off the position goes in evenly.
    off = np.stack([start - found[0], q[-1, 6:] - found[-1]])
    expected = found + off[0] + s[:, None] * (off[1] - off[0])
    np.testing.assert_allclose(q[:, 6:], expected, atol=1e-3)
    assert np.abs(off).max() < 0.9


@pytest.mark.parametrize("position", [WantedPosition.PA, WantedPosition.AT_START])
def test_a_slanted_pipe_is_kept_all_the_way_by_both_axes(position):
    """The pipe leans on the table: neither axis goes evenly, and the weld leans nowhere."""
    lean = pose(Rotation.from_rotvec([0.0, 0.26, 0.0]).as_matrix(), np.zeros(3))
    about = pose(np.eye(3), [0.95, 0.0, 0.1])
    lean = about @ lean @ inverse(about)
    angles = [np.pi, np.pi + 1.5, np.pi + 3.0]
    ends = [lean @ on_ring(a) for a in angles]
    wanted = [0.0, 0.0, 1.0] if position is WantedPosition.PA else [0.0, np.sin(0.3), np.cos(0.3)]

    def off(values, T, angle):
        travel = lean[:3, :3] @ [-np.sin(angle), np.cos(angle), 0]
        out = -T[:3, 2]
        sides = np.array([travel, np.cross(out, travel), out])
        return (TABLE.motion(values)[:3, :3] @ sides.T)[2] - wanted

    values, near = [], np.array([0.5, 0.0])
    for T, angle in zip(ends, angles, strict=True):
        near = least_squares(lambda v, T=T, a=angle: off(v, T, a), near - [0, 0.7]).x
        values.append(near)
    c = coordinated(position, ends, values, via="half way")
    _, s, q = seen(c, 61)
    missed = [off(v, lean @ on_ring(np.pi + 3.0 * x), np.pi + 3.0 * x)
              for v, x in zip(q[:, 6:], s, strict=True)]  # fmt: skip
    assert np.abs(missed).max() < 1e-3
    even = values[0] + s[:, None] * (values[-1] - values[0])
    assert np.abs(q[:, 6:] - even).max(axis=0).min() > 0.05


def test_a_position_that_was_taught_otherwise_is_said():
    def said(c):
        (one,) = [f.text for f in check(c).seams if f.kind is FindingKind.WELD_POSITION]
        return one

    assert "asked for" not in said(round_a_pipe())
    assert "PA was asked for" in said(round_a_pipe(tilt=0.1))


@pytest.mark.parametrize("position", [None, *WantedPosition])
def test_knots_keep_the_error_bound_on_the_part(position):
    c = round_a_pipe(position, 3.0)
    track, s, q = seen(c, 1500)
    tips = c.tips_on_part(q) - [0.95, 0.0, 0.1]
    angle = np.pi + 3.0 * s
    ideal = RADIUS * np.column_stack([np.cos(angle), np.sin(angle), 0 * s])
    assert np.linalg.norm(tips - ideal, axis=1).max() < 1.5 * PATH_ERROR
    assert len(track.t) > 10


def test_ends_are_as_taught_and_nothing_leaps():
    c = round_a_pipe(WantedPosition.PA, 2.0, tilt=0.6)
    track, _, q = seen(c, 400)
    np.testing.assert_allclose(track.q[0, 6:], [0.6, 0.0], atol=1e-9)
    np.testing.assert_allclose(track.q[-1, 6:], [0.6, -2.0], atol=1e-9)
    assert np.abs(np.diff(q, n=2, axis=0)).max() < 1e-3


def test_a_table_of_one_axis_comes_as_near_as_it_can():
    """A straight fillet round which the table can roll, but which it cannot level."""
    slope = 0.3
    table = turning_table((0.95, 0.0, 0.1), (1.0, 0.0, 0.0))
    start = torch_at(np.array([0.9, 0, 0.15]), np.array([0, 0.6, 0.8]), np.array([1.0, 0, slope]))
    end = start.copy()
    end[:3, 3] += 0.1 * np.array([1.0, 0, slope])
    c = coordinated(WantedPosition.PA, [start, end], [[0.4], [0.4]], table=table)
    _, _, q = seen(c, 21)
    values = np.linspace(-1.5, 1.5, 30001)
    R = table.motion(values[:, None])[:, :3, :3]
    way = np.array([1.0, 0, slope]) / np.hypot(1, slope)
    e = -start[:3, 2]
    out = e - (e @ way) * way
    out /= np.linalg.norm(out)
    sides = [R @ way, R @ np.cross(out, way), R @ out]
    miss = sides[0][:, 2] ** 2 + sides[1][:, 2] ** 2 + (sides[2][:, 2] - 1) ** 2
    best = values[miss.argmin()]
    off = 0.4 - best
    np.testing.assert_allclose(q[:, 6], best + off, atol=1e-3)
    assert abs(off) > 0.01


def test_an_arc_goes_through_what_the_table_was_taught_half_way():
    angles = [np.pi, np.pi + 0.7, np.pi + 2.0]
    values = [[0.5, 0.0], [0.8, -0.7], [0.5, -2.0]]
    c = coordinated(None, [on_ring(a) for a in angles], values, via="half way")
    track, _, _ = seen(c)
    middle = track.q_at(track.travel_start + 0.35 * track.travel_seconds)
    np.testing.assert_allclose(np.ravel(middle)[6:], [0.8, -0.7], atol=1e-3)


def test_a_position_is_refused_without_a_table_and_in_the_air():
    move = dataclasses.replace(seam("end", SPEED), position=WantedPosition.PA)
    q = np.array([0.1, 0.3, -0.1, 0.1, 0.9, 0.2])
    with pytest.raises(CellError, match="no table"):
        cell({"home": q}, [move])
    with pytest.raises(CellError, match="position"):
        dataclasses.replace(linear("end"), position=WantedPosition.PA)
    assert dataclasses.replace(seam("end"), position="PA").position is WantedPosition.PA


def test_a_coordinated_seam_costs_at_most_twice_a_plain_one():
    plain, kept = round_a_pipe(None, 4.0), round_a_pipe(WantedPosition.PA, 4.0)

    def seconds(c):
        begin = time.process_time()
        plan_program(c)
        return time.process_time() - begin

    seconds(plain), seconds(kept)
    pairs = [(seconds(plain), seconds(kept)) for _ in range(9)]
    ratio = statistics.median(b / a for a, b in pairs)
    assert ratio < 2.0, ratio


def test_points_of_a_part_are_where_the_table_takes_them():
    c = round_a_pipe()
    point = c.points["half way"]
    assert isinstance(point, Point)
    T = inverse(c.table.motion(point.held)) @ c.T_world_base @ point.T_base_tcp
    np.testing.assert_allclose(T, on_ring(np.pi + 1.0), atol=1e-12)

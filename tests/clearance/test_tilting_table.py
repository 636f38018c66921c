"""A table of two axes: arm, table and tilt frame move past each other, and both engines know it."""

import dataclasses
import itertools
from types import SimpleNamespace

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance import ReferenceEngine, Span
from pathsim.clearance.contact_rules import pair_margin, pairs_to_measure
from pathsim.clearance.corner import RoundedCorner
from pathsim.clearance.how_it_stands import table_at_zero
from pathsim.clearance.joint_pairs import joined_of
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.stretches import stretches
from pathsim.clearance.swept.engine import FastEngine
from pathsim.findings import Level
from pathsim.findings.kinds import FindingKind
from pathsim.model import Role, TorchPiece
from pathsim.motion import plan_program
from pathsim.motion.corner import corner_of
from pathsim.session import Session
from tests.builders import ball, body, box, cell, joint, linear, turning_table
from tests.clearance.corner_family import members
from tests.clearance.oracle import dense_distances

HOME = np.array([0.3, 0.1, 0.2, 0.3, 0.9, 0.4])
PIECES = (TorchPiece("nozzle", box((0.03, 0.03, 0.2), (0, 0, 0.1))),)


def tilted_cell(seed):
    """An arm, a tilt frame, a table in it and a post, all near each other, and all moving."""
    rng = np.random.default_rng(seed)
    tilt = ((0.9, 0.1, 0.5), rng.normal(size=3) if seed % 2 else (0, 1, 0))
    table = turning_table((0.95, 0, 0.6), rng.normal(size=3) if seed % 3 else (0, 0, 1), tilt)
    q = HOME + rng.uniform(-0.2, 0.2, (2, 6))
    points = {
        "home": [*q[0], *rng.uniform(-0.4, 0.4, 2)],
        "end": [*q[1], *rng.uniform(-1.2, 1.2, 2)],
    }
    way = cell(points, [joint("end")], table=table)
    middle = (np.array(points["home"]) + points["end"])[None] / 2
    near = {frame: way.tips_seen_from(frame, middle)[0] for frame in way.frames}
    floor, on_tilt, on_table = (near[frame] for frame in way.frames)
    bodies = [
        body(box((0.1, 0.2, 0.3)), "part", Role.PART, on_table + rng.normal(0, 0.08, 3), True),
        body(box((0.2, 0.1, 0.1)), "frame", Role.TABLE, on_tilt + rng.normal(0, 0.12, 3),
             on_tilt=True),
        body(ball(0.1, fineness=1), "post", Role.OTHER, floor + rng.normal(0, 0.1, 3)),
    ]  # fmt: skip
    return cell(points, [joint("end")], bodies=bodies, pieces=PIECES, table=table)


def expected_pairs(c):
    arm = [piece.name for piece in c.arm_pieces]
    names = ("part", "frame", "post")
    return {*itertools.product(arm, names), ("part", "frame"), ("part", "post"), ("frame", "post")}


@pytest.mark.parametrize("engine_of", [ReferenceEngine, FastEngine])
@pytest.mark.parametrize("seed", range(6))
def test_all_that_moves_past_each_other_like_dense_sampling(seed, engine_of):
    c = tilted_cell(seed)
    (track,) = plan_program(c).tracks
    engine, window = engine_of(c), Span(float(track.t[0]), float(track.t[-1]))
    pairs = pairs_to_measure(c, track, obstacles(c))
    assert {(piece.name, thing.name) for piece, thing in pairs} == expected_pairs(c)
    near = 0
    for piece, thing in pairs:
        found = engine.on(track).closest(piece, thing, window)
        _, seen = dense_distances(c, track, piece, thing, window, 150)
        assert seen.min() >= found.lower - 1e-9, (piece.name, thing.name)
        if found.is_capped:
            assert seen.min() >= engine.cap - 1e-9
            continue
        near += 1
        assert found.upper <= seen.min() + 5e-4 + 1e-9
        assert found.upper - found.lower <= 6e-4
        if found.upper > 0:
            point = np.append(found.on_standing, 1.0)
            q = track.q_at(found.time)
            T = c.frame_motion(thing.stands_on, np.atleast_2d(q))[0]
            point = (np.linalg.inv(T) @ point)[:3]
            low, high = thing.mesh.bounds
            assert (point >= low - 1e-7).all() and (point <= high + 1e-7).all()
    assert near > 0


def moved(start, end):
    """A table that goes from ``start`` to ``end`` (tilt, turn) past the arm, which stands still."""
    table = turning_table((1.5, 0, 0.2), tilt=((1.5, 0, 0), (0, 1, 0)))
    points = {"home": [*HOME, *start], "end": [*HOME, *end]}
    plate = body(box((0.4, 0.1, 0.05)), "plate", Role.PART, (1.5, 0, 0.3), on_table=True)
    frame = body(box((0.1, 0.1, 0.1)), "frame", Role.OTHER, (1.5, 0.3, 0.3), on_tilt=True)
    post = body(box((0.1, 0.1, 0.1)), "post", Role.OTHER, (1.5, 0.9, 0.3))
    return cell(points, [joint("end")], bodies=(plate, frame, post), pieces=PIECES, table=table)


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        ((0, 0), (0.5, 0), {("plate", "post"), ("frame", "post")}),
        ((0, 0), (0, 0.5), {("plate", "post"), ("plate", "frame")}),
        ((0, 0), (0.5, 0.5), {("plate", "post"), ("frame", "post"), ("plate", "frame")}),
        ((0.3, 0), (0.3, 0), {("plate", "post"), ("frame", "post")}),
        ((0, 0.3), (0, 0.3), {("plate", "post"), ("plate", "frame")}),
        ((0, 0), (0, 0), set()),
    ],
)
def test_what_an_axis_moves_past_is_measured_and_nothing_else(start, end, expected):
    c = moved(start, end)
    (track,) = plan_program(c).tracks
    pairs = pairs_to_measure(c, track, obstacles(c))
    of_table = [(piece, thing) for piece, thing in pairs if piece.body is not None]
    assert {(piece.name, thing.name) for piece, thing in of_table} == expected
    (part,) = stretches(c, plan_program(c), track)
    moves = start != end
    for piece, thing in of_table:
        margin = pair_margin(c, track, piece, thing, part)
        assert margin == (c.margins.air if moves else 0.0)


def test_a_plate_that_turns_into_its_tilt_frame_is_a_stop():
    c = moved((0, 0), (0, np.pi / 2))  # the plate's end is 0.2 from its axis, the frame at 0.25
    assert any(f.level is Level.STOP for f in check(c).findings) is False
    longer = body(box((0.6, 0.1, 0.05)), "plate", Role.PART, (1.5, 0, 0.3), on_table=True)
    found = check(c.with_body(longer)).findings
    assert [(f.piece, f.body) for f in found if f.level is Level.STOP] == [("plate", "frame")]


def test_a_frame_that_tilts_into_a_post_is_a_stop():
    c = moved((0, 0), (1.2, 0))
    post = body(box((0.1, 0.1, 0.1)), "post", Role.OTHER, (1.78, 0.3, 0.15))
    found = check(c.with_body(post)).findings
    assert ("frame", "post") in [(f.piece, f.body) for f in found if f.level is Level.STOP]


def test_what_stands_at_zero_is_looked_at_once_for_each_pair_that_no_move_measures_there():
    c = moved((0, 0), (0, 0.5))
    trajectory = plan_program(c)
    asked = {(p.name, t.name) for (p, t), _ in table_at_zero(c, trajectory, ReferenceEngine(c))}
    assert asked == {("frame", "post")}
    # At no knot are both axes at zero: the plate never stood as it was drawn.
    away = moved((0.1, -0.5), (0.2, 0.5))
    asked = table_at_zero(away, plan_program(away), ReferenceEngine(away))
    assert {(p.name, t.name) for (p, t), _ in asked} == {("plate", "post"), ("frame", "post")}

    # One axis at zero at a time is not the table at zero.
    away = moved((0, 0.5), (0.5, 0.5))
    asked = table_at_zero(away, plan_program(away), ReferenceEngine(away))
    assert ("plate", "post") in {(p.name, t.name) for (p, t), _ in asked}


def test_a_move_is_laid_anew_when_the_tilt_is_slower():
    c = moved((0, 0), (0.5, 0.2))
    straight = c.with_program("home", linear("end"))
    table = c.table
    other = dataclasses.replace(table, tilt=dataclasses.replace(table.tilt, speed=0.1))
    session = Session()
    session.check(straight)
    kept = session.check(dataclasses.replace(straight, table=other))
    anew = check(dataclasses.replace(straight, table=other))
    for one, two in zip(kept.trajectory.tracks, anew.trajectory.tracks, strict=True):
        np.testing.assert_array_equal(one.q, two.q)
        assert one.t[-1] == two.t[-1] > 4.0  # half a radian at a tenth of one a second


def test_each_axis_has_a_bearing_of_its_own():
    table = turning_table((1.5, 0, 0.2), tilt=((1.5, 0, 0.1), (0, 1, 0)))
    stand = body(box((0.1, 0.1, 0.2)), "stand", Role.OTHER, (1.5, 0.2, 0.1), bears="tilt frame")
    frame = body(box((0.3, 0.3, 0.1)), "frame", Role.TABLE, (1.5, 0, 0.15), on_tilt=True,
                 bears="turning table")  # fmt: skip
    plate = body(box((0.2, 0.2, 0.02)), "plate", Role.TABLE, (1.5, 0, 0.21), on_table=True)
    points = {"home": [*HOME, 0, 0], "end": [*HOME, 0.3, 0.3]}
    c = cell(points, [joint("end")], bodies=(stand, frame, plate), pieces=PIECES, table=table)
    joints = {(one.piece.name, one.standing.name): c.axes.names[one.column] for one in joined_of(c)}
    assert joints == {("frame", "stand"): "the tilt axis", ("plate", "frame"): "the turning table"}
    (track,) = plan_program(c).tracks
    pairs = {(p.name, t.name) for p, t in pairs_to_measure(c, track, obstacles(c)) if p.body}
    assert pairs == {("plate", "stand")}
    result = check(c)
    assert not [f for f in result.findings if f.kind is FindingKind.TOUCHES_TABLE]


def test_a_straight_move_keeps_its_line_on_a_part_that_tilts_and_turns():
    table = turning_table((1.1, 0, 0.2), (0.1, 0, 1), tilt=((1.1, 0.2, 0.1), (0.2, 1, 0)))
    home = [0.1, 0.3, -0.1, 0.1, 0.9, 0.2]
    end = [0.13, 0.33, -0.13, 0.1, 0.92, 0.2]
    c = cell({"home": [*home, 0.1, 0.2], "end": [*end, 0.35, -0.4]}, [linear("end")],
             pieces=PIECES, table=table)  # fmt: skip
    (track,) = plan_program(c).tracks
    assert track.fault is None
    tips = c.tips_on_part(track.q)
    ends = c.tips_on_part(np.array([c.points["home"].q, c.points["end"].q]))
    np.testing.assert_allclose(tips[[0, -1]], ends, atol=1e-6)
    way = ends[1] - ends[0]
    off = np.linalg.norm(np.cross(tips - ends[0], way), axis=1) / np.linalg.norm(way)
    assert off.max() < 2e-5
    values = track.q[:, 6:]
    share = np.linalg.norm(tips - ends[0], axis=1) / np.linalg.norm(way)
    even = np.array([0.1, 0.2]) + share[:, None] * [0.25, -0.6]
    np.testing.assert_allclose(values, even, atol=2e-4)


@pytest.mark.parametrize("axes", [1, 2])
@pytest.mark.parametrize("seed", range(4))
def test_all_that_moves_past_each_other_in_a_rounded_corner(seed, axes):
    """Whatever the arm, the frame and the table do there: one axis, two, or all of them count."""
    c = tilted_cell(seed)
    rng = np.random.default_rng(100 + seed)
    q = c.points["end"].q + rng.uniform(-0.5, 0.5, 8) * [1, 0.5, 0.5, 1, 0.5, 1, axes - 1, 1]
    middle = c.points["home"].q * 0.5 + c.points["end"].q * 0.5
    names = {"home": c.points["home"].q, "middle": middle, "end": q}
    moves = [dataclasses.replace(joint("middle"), rounding=0.12), joint("end")]
    c = cell(names, moves, bodies=c.bodies, pieces=PIECES, table=c.table)
    tracks = plan_program(c).tracks
    corner = corner_of(c, tracks, 0)
    family = members(corner, rng, 250)
    asked = SimpleNamespace(t=np.arange(float(len(family))), q=family)
    near = 0
    for engine in (ReferenceEngine(c), FastEngine(c)):
        rounded = RoundedCorner(c, engine, tracks[0], corner)
        for piece, thing in pairs_to_measure(c, tracks[0], obstacles(c)):
            found = rounded.clearance(piece, thing, 0.01)
            window = Span(0.0, len(family) - 1.0)
            _, seen = dense_distances(c, asked, piece, thing, window, len(family))
            assert found.lower <= seen.min() + 1e-9, (piece.name, thing.name)
            near += found.upper < engine.cap
            if piece.body is not None and found.upper < engine.cap:  # few axes: it is narrow
                assert found.upper - found.lower <= 2e-3 + 0.06 * found.upper
    assert near > 3

"""The kernels that lay knots against other ways: whole arrays at once, and laying in batches."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from pathsim.arm import follower
from pathsim.arm.inverse import branch_of, closed_form
from pathsim.errors import MotionError
from pathsim.files import load_cell
from pathsim.kernels.ready import ENGINE, REFERENCE
from pathsim.model import Pattern, Weave
from pathsim.model.held_way import HeldWay
from pathsim.model.lever import longest_levers
from pathsim.model.weave import DwellCounts, TravelInDwell
from pathsim.motion import PATH_ERROR, fast_knots, plan_program
from pathsim.motion.cartesian import cartesian_motion
from pathsim.motion.fast_knots import lay_fast
from pathsim.motion.ideal import ideal_of, poses_at
from pathsim.motion.ideal_kernel import Room, solve_at
from pathsim.motion.knots_kernel import lay_knots
from pathsim.motion.paths import ArcPath, LinePath
from pathsim.motion.seam_place import seam_places
from pathsim.transforms import exp_rotation, pose
from tests.builders import cell, joint, linear, rail_arm, seam, shop_arm, turning_table
from tests.motion import ideal_oracle

HOME = np.array([0.1, 0.2, 0.1, 0.3, 1.2, -0.4])
NONE_HELD = HeldWay.evenly(np.zeros(0), np.zeros(0))
SAMPLES = sorted(p.parent for p in (Path(__file__).parents[2] / "sample_cells").glob("*/cell.yaml"))


def room():
    return Room(np.zeros((5, 12)), np.zeros((1, 4, 4)), np.zeros((1, 1, 6)),
                np.zeros((1, 1), dtype=bool))  # fmt: skip


def same_motion(c, motion, q, count=400, seed=0):
    """Largest gap of the axes that both find, at random times and at the very ends."""
    closed = closed_form(c.arm)
    branch = branch_of(closed, q[: c.arm.dof])
    ideal = ideal_of(motion, c.axes, closed, branch)
    times = np.random.default_rng(seed).uniform(0.0, motion.travel_time, count)
    times[:2] = 0.0, motion.travel_time
    near = q + np.random.default_rng(seed + 1).uniform(-8.0, 8.0, (count, len(q)))
    expected, held = near.copy(), list(c.axes.held)
    expected[:, held] = ideal_oracle.held(motion, times)
    follow = follower(c.arm, q[: c.arm.dof])
    expected[:, : c.arm.dof], solved = follow(
        ideal_oracle.flange(motion, times), expected[:, : c.arm.dof]
    )
    seen = poses_at(motion, times)
    np.testing.assert_allclose(seen.tool, ideal_oracle.tool(motion, times), rtol=0, atol=1e-12)
    np.testing.assert_allclose(seen.flange, ideal_oracle.flange(motion, times), rtol=0, atol=1e-12)
    np.testing.assert_allclose(seen.held, ideal_oracle.held(motion, times), rtol=0, atol=1e-12)
    found, there = near.copy(), room()
    for k, time in enumerate(times):
        assert solve_at(ideal, time, near, k, found, k, there) == solved[k]
    assert solved.all()
    return np.abs(found - expected).max()


def shifted(T, by, turn=(0.0, 0.0, 0.0)):
    return pose(exp_rotation(np.asarray(turn)) @ T[:3, :3], T[:3, 3] + by)


def place_of(paths, weave, index):
    return seam_places(paths, 0.01, weave)[index]


@pytest.mark.parametrize("jerk", [np.inf, 2.0])
def test_a_straight_move_and_an_arc_that_turn(jerk):
    c = dataclasses.replace(cell({"home": HOME}, [joint("home")]), tip_jerk=jerk)
    start = c.arm.pose(HOME) @ c.torch.T_flange_tcp
    via, end = shifted(start, [0.05, 0.04, 0.0], [0.2, 0, 0.1]), shifted(start, [0.1, 0, 0.02])
    for path in (LinePath(start, via), ArcPath(start, via, end)):
        motion = cartesian_motion(c, linear("home"), path, NONE_HELD)
        assert same_motion(c, motion, HOME) < 1e-9


@pytest.mark.parametrize("pattern", list(Pattern))
@pytest.mark.parametrize("piece", [0, 1, 2])
def test_weaves_of_all_patterns_round_corners(pattern, piece):
    weave = Weave("w", pattern, 0.003, 1.7, 0.1, 0.05, DwellCounts.ADDED, 0.03,
                  TravelInDwell.STANDS if piece else TravelInDwell.GOES_ON, 0.2)  # fmt: skip
    c = cell({"home": HOME}, [joint("home")])
    start = c.arm.pose(HOME) @ c.torch.T_flange_tcp
    a, b = shifted(start, [0.06, 0.01, 0.0]), shifted(start, [0.07, 0.06, 0.0], [0, 0, 0.3])
    d = shifted(start, [0.1, 0.09, 0.01], [0, 0, 0.3])
    paths = [LinePath(start, a), ArcPath(a, b, d), LinePath(d, shifted(d, [0.0, 0.07, 0.0]))]
    motion = cartesian_motion(c, seam("home", 0.01, weave), paths[piece], NONE_HELD,
                              place_of(paths, weave, piece))  # fmt: skip
    assert same_motion(c, motion, HOME) < 1e-9


def test_a_seam_without_a_weave_goes_evenly():
    c = cell({"home": HOME}, [joint("home")])
    start = c.arm.pose(HOME) @ c.torch.T_flange_tcp
    path = LinePath(start, shifted(start, [0.06, 0.01, 0.0]))
    motion = cartesian_motion(c, seam("home"), path, NONE_HELD)
    assert same_motion(c, motion, HOME) < 1e-9


@pytest.mark.parametrize("goes", ["evenly", "through"])
@pytest.mark.parametrize("tilts", [False, True])
@pytest.mark.parametrize("on_rail", [False, True])
def test_a_turning_table_and_a_rail_go_along(on_rail, tilts, goes):
    arm, q = (rail_arm(), np.append(0.4, HOME)) if on_rail else (shop_arm(), HOME)
    q = np.append(q, [0.2, 0.3][-1 - tilts :])
    tilt = ((1.0, 0.3, 0.1), (0.1, 1.0, 0.2)) if tilts else None
    table = turning_table(at=(1.0, 0.2, 0.3), axis=(0.2, 0.3, 1.0), tilt=tilt)
    T = pose(exp_rotation(np.array([0.1, 0.0, 0.4])), [0.2, -0.1, 0.05])
    c = cell({"home": q}, [joint("home")], arm=arm, table=table)
    c = dataclasses.replace(c, T_world_base=T)
    held = q[list(c.axes.held)]
    seen = np.linalg.inv(table.motion(held[-1 - tilts :])) @ T
    start = seen @ c.arm.pose(q[: c.arm.dof]) @ c.torch.T_flange_tcp
    path = LinePath(start, shifted(start, [0.05, 0.04, 0.0], [0.1, 0, 0]))
    end = held + [0.3, 0.25, -0.4][-len(held) :]
    way = HeldWay.evenly(held, end)
    if goes == "through":
        off = np.array([0.02, 0.03, -0.05])[-len(held) :]
        values = np.stack([held, (held + end) / 2 + off, end + off / 2, end])
        way = HeldWay.through(np.array([0.0, 0.4, 0.7, 1.0]), values)
        np.testing.assert_allclose(way(np.array([0.0, 0.4, 0.7, 1.0])), values, atol=1e-12)
    motion = cartesian_motion(c, linear("home"), path, way)
    assert same_motion(c, motion, q) < 1e-9


def plain(c, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setenv(ENGINE, REFERENCE)
        return plan_program(c)


@pytest.mark.parametrize("folder", SAMPLES, ids=lambda p: p.name)
def test_sample_cells_are_laid_alike(folder, monkeypatch):
    c = load_cell(folder)
    fast = plan_program(c)
    ways = [plain(c, monkeypatch)]
    monkeypatch.setattr(fast_knots, "lay_fast", lambda *_: None)
    ways.append(plan_program(c))
    for a, b in ((a, b) for way in ways for a, b in zip(fast.tracks, way.tracks, strict=True)):
        assert len(a.t) == len(b.t) and a.fault == b.fault
        np.testing.assert_allclose(a.t, b.t, rtol=0, atol=1e-9)
        np.testing.assert_allclose(a.q, b.q, rtol=0, atol=1e-8)
        assert a.slow_duration == pytest.approx(b.slow_duration, abs=1e-9)
    for way in ways:
        assert [note.kind for note in fast.notes] == [note.kind for note in way.notes]


def straight_move(c, q, end):
    start = c.arm.pose(q) @ c.torch.T_flange_tcp
    path = LinePath(start, end)
    motion = cartesian_motion(c, linear("home"), path, NONE_HELD)
    closed = closed_form(c.arm)
    return motion, lay_fast(motion, c.axes, closed, branch_of(closed, q), q, longest_levers(c))


def test_knots_keep_the_error_bound_on_random_moves():
    """Checked by the plain code at other places than the kernel looked at."""
    rng = np.random.default_rng(11)
    laid_moves = 0
    while laid_moves < 20:
        q = HOME + rng.uniform(-1, 1, 6) * [1, 0.3, 0.3, 2, 1.0, 2]
        c = cell({"home": q}, [joint("home")])
        start = c.arm.pose(q) @ c.torch.T_flange_tcp
        end = shifted(start, rng.uniform(-0.15, 0.15, 3), rng.uniform(-0.6, 0.6, 3))
        motion, laid = straight_move(c, q, end)
        if laid is None:
            continue
        laid_moves += 1
        assert laid.t[0] == 0.0 and laid.t[-1] == pytest.approx(motion.travel_time)
        times = (0.37 * laid.t[:-1] + 0.63 * laid.t[1:]).ravel()
        even = 0.37 * laid.q[:-1] + 0.63 * laid.q[1:]
        ideal, solved = follower(c.arm, q)(ideal_oracle.flange(motion, times), even)
        assert solved.all()
        assert (np.abs(ideal - even) @ longest_levers(c)).max() <= PATH_ERROR * 1.05


def test_what_cannot_be_laid_to_its_end_is_left_to_the_plain_code(monkeypatch):
    c = cell({"home": HOME}, [joint("home")])
    start = c.arm.pose(HOME) @ c.torch.T_flange_tcp
    _, laid = straight_move(c, HOME, shifted(start, [3.0, 0.0, 0.0]))
    assert laid is None
    # straight through the wrist's own axis joint 4 flips
    q = np.array([0.0, 0.2, 0.3, 0.0, 0.4, 0.0])
    c = cell({"home": q, "end": np.array([0.0, 0.25, 0.2, 0.0, -0.3, 0.0])}, [linear("end", 0.05)])
    _, laid = straight_move(c, q, c.arm.pose(c.points["end"].q) @ c.torch.T_flange_tcp)
    assert laid is None
    fast, slow = plan_program(c).tracks[0], plain(c, monkeypatch).tracks[0]
    assert fast.fault is not None and fast.fault == slow.fault
    np.testing.assert_allclose(fast.q, slow.q, rtol=0, atol=1e-9)


def test_all_motions_are_one_kind_to_the_compiler():
    """Another layout of an array would compile the kernel anew, in the middle of a check."""
    for folder in SAMPLES:
        plan_program(load_cell(folder))
    assert len(lay_knots.signatures) == 1


def test_a_weave_without_a_side_is_still_refused_in_words():
    weave = Weave("w", Pattern.SINE, 0.003, 1.7)
    c = cell({"home": HOME}, [joint("home")])
    start = c.arm.pose(HOME) @ c.torch.T_flange_tcp
    end = shifted(start, 0.05 * start[:3, 2])  # along the wire
    points = dict(c.points)
    points["end"] = dataclasses.replace(points["home"], q=None, T_base_tcp=end, name="end")
    program = dataclasses.replace(c.program, moves=(seam("end", 0.01, weave),))
    with pytest.raises(MotionError, match="the torch points along the seam"):
        plan_program(dataclasses.replace(c, points=points, program=program))

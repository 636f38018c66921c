"""Rails and turning tables: two things that move are one relative chain for the engine."""

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance import ReferenceEngine, Span
from pathsim.clearance.contact_rules import pairs_to_measure
from pathsim.clearance.obstacle import obstacles
from pathsim.findings import Level
from pathsim.model import Role, TorchPiece
from pathsim.motion import plan_program
from tests.builders import ball, body, box, cell, joint, linear, rail_arm, seam, turning_table
from tests.clearance.oracle import dense_distances

HOME = np.array([0.3, 0.1, 0.2, 0.3, 0.9, 0.4])


def measured_like_dense(c, pairs_wanted=None):
    """Hold every pair of every move against dense sampling; return how many were near."""
    trajectory = plan_program(c)
    engine = ReferenceEngine(c)
    near = 0
    for track in trajectory.tracks:
        window = Span(float(track.t[0]), float(track.t[-1]))
        for piece, thing in pairs_to_measure(c, track, obstacles(c)):
            if pairs_wanted is not None and (piece.name, thing.name) not in pairs_wanted:
                continue
            found = engine.on(track).closest(piece, thing, window)
            times, seen = dense_distances(c, track, piece, thing, window, 120)
            assert seen.min() >= found.lower - 1e-9, (piece.name, thing.name)
            if found.is_capped:
                assert seen.min() >= engine.cap - 1e-9
            else:
                near += 1
                assert found.upper <= seen.min() + 5e-4 + 1e-9
                assert found.upper - found.lower <= 6e-4
                close = np.argmin(np.abs(times - found.time))
                gap = np.linalg.norm(found.on_moving - found.on_standing)
                if found.upper > 0:
                    assert gap == pytest.approx(found.upper, abs=1e-9)
                    assert_on_body(c, track, thing, found)
                    assert found.upper <= seen[close] + 1e-2
    return near


def assert_on_body(c, track, thing, found):
    """The nearest point is said in the world: turned back with the table it lies on the mesh."""
    point = np.append(found.on_standing, 1.0)
    if thing.on_table:
        point = np.linalg.inv(c.table_motion(track.q_at(found.time))[0]) @ point
    low, high = thing.mesh.bounds
    assert (point[:3] >= low - 1e-7).all() and (point[:3] <= high + 1e-7).all()


@pytest.mark.parametrize("seed", range(8))
def test_arm_against_turning_bodies_like_dense_sampling(seed):
    rng = np.random.default_rng(seed)
    table = turning_table((0.9, 0, 0.5), rng.normal(size=3) if seed % 2 else (0, 0, 1))
    q = HOME + rng.uniform(-0.2, 0.2, (2, 6))
    points = {"home": [*q[0], 0.0], "end": [*q[1], rng.uniform(-1.5, 1.5)]}
    way = cell(points, [joint("end")], table=table)
    middle = (np.array(points["home"]) + points["end"])[None] / 2
    near = way.tips_on_part(middle)[0]
    bodies = [
        body(box((0.1, 0.2, 0.3)), "turning", Role.PART, near + rng.normal(0, 0.12, 3), True),
        body(ball(0.1, fineness=1), "post", Role.OTHER, near + rng.normal(0, 0.15, 3)),
    ]
    pieces = (TorchPiece("nozzle", box((0.03, 0.03, 0.2), (0, 0, 0.1))),)
    c = cell(points, [joint("end")], bodies=bodies, pieces=pieces, table=table)
    assert measured_like_dense(c) > 0


@pytest.mark.parametrize("seed", range(6))
def test_arm_on_a_rail_like_dense_sampling(seed):
    rng = np.random.default_rng(100 + seed)
    q = np.column_stack([rng.uniform(-0.6, 0.6, 2), HOME + rng.uniform(-0.3, 0.3, (2, 6))])
    near = rail_arm().pose(q.mean(axis=0))[:3, 3]
    bodies = [body(box((0.2, 0.2, 0.2)), at=near + rng.normal(0, 0.15, 3))]
    pieces = (TorchPiece("nozzle", box((0.03, 0.03, 0.2), (0, 0, 0.1))),)
    links = [None] * 6 + [box((0.1, 0.1, 0.1)), box((0.06, 0.06, 0.06))]
    c = cell({"home": q[0], "end": q[1]}, [joint("end")], bodies=bodies, pieces=pieces,
             arm=rail_arm(), links=links)  # fmt: skip
    assert measured_like_dense(c) > 0


def welding_table():
    """A ball of a part on a table, the tip on its edge."""
    c = cell({"home": [*HOME, 0.0]}, [joint("home")], table=turning_table())
    tip = c.tool_poses(np.array([[*HOME, 0.0]]))[0, :3, 3]
    return turning_table((tip[0] - 0.05, tip[1], 0.4)), tip


def test_a_seam_under_a_standing_torch_is_round_on_the_part():
    """The tip stands still while the part turns: on the part its way is the arc of the radius."""
    table, tip = welding_table()
    points = {name: [*HOME, a] for name, a in (("home", 0.0), ("half", 0.6), ("end", 1.2))}
    c = cell(points, [seam("end", 0.005, via="half")], table=table)
    (track,) = plan_program(c).tracks
    assert track.fault is None
    assert track.tip_length == pytest.approx(1.2 * 0.05, rel=1e-9)
    assert track.duration == pytest.approx(1.2 * 0.05 / 0.005, rel=1e-9)
    t = np.linspace(track.t[0], track.t[-1], 500)
    q = track.q_at(t)
    np.testing.assert_allclose(c.tool_poses(q)[:, :3, 3] - tip, 0, atol=3e-5)
    np.testing.assert_allclose(q[:, :6] - HOME, 0, atol=1e-6)
    np.testing.assert_allclose(q[:, 6], 1.2 * (t - t[0]) / (t[-1] - t[0]), atol=1e-6)
    on_part = c.tips_on_part(q)
    np.testing.assert_allclose(np.linalg.norm((on_part - on_part.mean(0))[:, 2]), 0, atol=1e-4)


def test_a_straight_move_is_straight_on_a_part_that_turns():
    table, _ = welding_table()
    c = cell({"home": [*HOME, 0.0]}, [joint("home")], table=table)
    goal = c.arm.pose(HOME)
    goal[:3, 3] += [0.03, 0.06, 0.02]
    end = c.arm.inverse(goal)
    end = end[np.argmin(np.abs(end - HOME).max(axis=1))]
    c = cell({"home": [*HOME, 0.0], "end": [*end, 0.8]}, [linear("end", 0.05)], table=table)
    (track,) = plan_program(c).tracks
    assert track.fault is None
    tips = c.tips_on_part(track.q_at(np.linspace(*track.t[[0, -1]], 2000)))
    way = tips[-1] - tips[0]
    across = np.cross(tips - tips[0], way / np.linalg.norm(way))
    assert np.linalg.norm(across, axis=1).max() < 4e-5
    assert np.linalg.norm(way) == pytest.approx(track.tip_length, abs=1e-6)
    np.testing.assert_allclose(track.q[-1], [*end, 0.8], atol=1e-6)


def test_a_rail_goes_evenly_while_the_tip_goes_straight():
    arm = rail_arm()
    start = np.array([0.1, *HOME])
    T = arm.pose(start)
    T[:3, 3] += [0.02, 0.15, -0.03]
    end = arm.inverse(T, held=0.3)
    end = end[np.argmin(np.abs(end - start).max(axis=1))]
    c = cell({"home": start, "end": end}, [linear("end", 0.05)], arm=arm)
    (track,) = plan_program(c).tracks
    assert track.fault is None
    q = track.q_at(np.linspace(*track.t[[0, -1]], 2000))
    tips = c.tool_poses(q)[:, :3, 3]
    share = (tips - tips[0]) @ (tips[-1] - tips[0]) / ((tips[-1] - tips[0]) ** 2).sum()
    np.testing.assert_allclose(tips, tips[0] + share[:, None] * (tips[-1] - tips[0]), atol=3e-5)
    np.testing.assert_allclose(q[:, 0], 0.1 + 0.2 * share, atol=1e-4)


def test_turning_part_hits_a_post_and_that_is_said():
    table = turning_table((1.5, 0, 0))
    arm_away = [0.3, -0.5, 0.2, 0.3, 0.9, 0.4]
    bodies = [
        body(box((0.4, 0.05, 0.05)), "beam", Role.PART, (1.5, 0, 0.3), on_table=True),
        body(box((0.05, 0.05, 0.4)), "post", Role.FIXTURE, (1.5, 0.18, 0.3)),
    ]
    points = {"home": [*arm_away, 0.0], "turned": [*arm_away, np.pi]}
    c = cell(points, [joint("turned"), joint("turned")], bodies=bodies, table=table)
    result = check(c)
    (hit,) = [f for f in result.findings if f.kind == "contact"]
    assert hit.level is Level.STOP and (hit.piece, hit.body) == ("beam", "post")
    assert hit.move == 1  # on the second move the table stands: nothing of both moves
    assert any("while the table does not turn" in item.what for item in result.left_out)
    first = result.trajectory.tracks[0]
    # closed form: the beam's face meets the post's near corner
    angle = float(first.q_at(hit.spans[0].start)[0, 6])
    corner = np.array([0.025, 0.155])
    distance, way = np.hypot(*corner), np.arctan2(corner[1], corner[0])
    expected = way - np.arcsin(0.025 / distance)
    assert angle == pytest.approx(expected, abs=0.02)
    assert angle <= expected + 1e-9


def test_stand_of_the_table_and_bed_of_the_rail_are_joined_to_what_they_bear():
    table = turning_table((1.5, 0, 0))
    stand = body(box((0.2, 0.2, 0.2)), "stand", Role.OTHER, (1.5, 0, 0.0), bears="turning table")
    plate = body(box((0.3, 0.3, 0.02)), "plate", Role.TABLE, (1.5, 0, 0.11), on_table=True)
    part = body(box((0.1, 0.1, 0.4)), "part", Role.PART, (1.58, 0, 0.3), on_table=True)
    away = [0.3, -0.5, 0.2, 0.3, 0.9, 0.4]
    c = cell({"home": [*away, 0.0], "turned": [*away, 1.0]}, [joint("turned")],
             bodies=[stand, plate, part], table=table)  # fmt: skip
    trajectory = plan_program(c)
    pairs = pairs_to_measure(c, trajectory.tracks[0], obstacles(c))
    names = {(p.name, s.name) for p, s in pairs}
    assert ("plate", "stand") not in names
    assert ("part", "stand") in names  # only the plate rests on it
    assert any("bears the table" in item.why for item in check(c).left_out)
    bed = body(box((0.4, 4.0, 0.1)), "bed", Role.OTHER, (0, 0, -0.06), bears="arm")
    links = [None] + [box((0.1, 0.1, 0.1))] * 7
    r = cell({"home": [0, *away]}, [joint("home")], bodies=[bed], arm=rail_arm(), links=links)
    pairs = pairs_to_measure(r, plan_program(r).tracks[0], obstacles(r))
    names = {(p.name, s.name) for p, s in pairs}
    assert ("rail slide", "bed") not in names and ("link 1", "bed") in names

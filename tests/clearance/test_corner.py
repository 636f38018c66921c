"""Rounded corners: the guaranteed number holds for every way of rounding in the family."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.corner import SHARE, TOLERANCE, RoundedCorner, least_in_family
from pathsim.clearance.measure import measure_moves
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.clearance.relative_chain import chain_id, linkage_of, reach
from pathsim.clearance.swept.engine import FastEngine
from pathsim.findings import Level
from pathsim.model import TorchPiece
from pathsim.motion import plan_program
from pathsim.motion.corner import Corner, corner_of
from pathsim.quick import least_clearance
from pathsim.session import Session
from tests.builders import ball, body, box, cell, joint, linear, turning_table
from tests.clearance.corner_family import members

SAMPLES = Path(__file__).parents[2] / "sample_cells"
HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])
NOZZLE = (TorchPiece("nozzle", box((0.03, 0.03, 0.2), (0, 0, 0.1))),)


def rounded(move, distance):
    return dataclasses.replace(move, rounding=distance)


def corner_cell(rng, distance, bodies=(), table=None):
    """Two moves with a rounded corner between them."""
    extra = [] if table is None else [0.0]
    middle = HOME + rng.uniform(-0.4, 0.4, 6) * [1, 0.5, 0.5, 1, 0.5, 1]
    end = middle + rng.uniform(-0.4, 0.4, 6) * [1, 0.5, 0.5, 1, 0.5, 1]
    turn = [] if table is None else [rng.uniform(-0.5, 0.5)]
    points = {"home": [*HOME, *extra], "middle": [*middle, *turn], "end": [*end, *extra]}
    kind = linear if rng.random() < 0.5 else joint
    moves = [rounded(kind("middle"), distance), joint("end")]
    return cell(points, moves, bodies=bodies, pieces=NOZZLE, table=table)


@pytest.mark.parametrize("engine_of", [ReferenceEngine, FastEngine])
@pytest.mark.parametrize("seed", range(12))
def test_holds_for_every_mixture(seed, engine_of):
    rng = np.random.default_rng(seed)
    table = turning_table((0.8, 0, 0)) if seed % 3 == 0 else None
    distance = rng.uniform(0.01, 0.08)
    blank = corner_cell(np.random.default_rng(1000 + seed), distance, table=table)
    corner_q = plan_program(blank).tracks[0].q[-1]
    near = blank.tips_on_part(corner_q[None])[0] + rng.normal(0, 0.08, 3)
    shape = body(ball(0.04, fineness=1), at=near, on_table=table is not None)
    c = corner_cell(np.random.default_rng(1000 + seed), distance, [shape], table)
    trajectory = plan_program(c)
    corner = corner_of(c, trajectory.tracks, 0)
    assert corner is not None and corner.point == "middle"
    rounded = RoundedCorner(c, engine_of(c), trajectory.tracks[0], corner)
    (thing,) = obstacles(c)
    for piece in c.arm_pieces:
        found = rounded.clearance(piece, thing, 0.0)
        # independent: both placed in the world, one posture at a time
        moving, still = Shape(piece.mesh), Shape(thing.mesh)
        seen = []
        for q in members(corner, rng, 400):
            moving.place(c.link_poses(q[None])[0, piece.link])
            still.place(c.table_motion(q[None])[0] if thing.on_table else np.eye(4))
            seen.append(moving.distance(still)[0])
        assert found.lower <= min(seen) + 1e-9
        if not found.is_capped and found.upper > 0:
            # and it is worth something: the looks run out only for very wide corners
            wide = 2.5 * TOLERANCE + SHARE * found.upper
            assert found.upper - found.lower <= max(wide, 0.15 * distance)
            gap = np.linalg.norm(found.on_moving - found.on_standing)
            assert gap == pytest.approx(found.upper, abs=1e-9)


def test_the_zone_reaches_as_far_as_it_is_said():
    c = corner_cell(np.random.default_rng(5), 0.05)
    first, second = plan_program(c).tracks
    corner = corner_of(c, (first, second), 0)
    for knots in (corner.before[::-1], corner.behind):
        tips = c.tool_poses(knots)[:, :3, 3]
        way = np.linalg.norm(np.diff(tips, axis=0), axis=1).sum()
        assert way >= 0.05 - 1e-9
    huge = corner_cell(np.random.default_rng(5), 1.0)
    first, second = plan_program(huge).tracks
    corner = corner_of(huge, (first, second), 0)
    # more than a whole move: all of both moves, and a word about it
    assert first.t[0] == corner.start and corner.end == second.t[-1]
    said = [f.text for f in check(huge).findings if f.kind == "rounding"]
    assert len(said) == 2 and all("less than the roundings at its ends" in text for text in said)


def inside_corner():
    """A post in the inside of a corner: the sharp way clears it, the cut across does not."""
    base = cell({"home": HOME}, [joint("home")], pieces=NOZZLE)
    T = base.arm.pose(HOME)
    points = {"home": HOME}
    for name, offset in (("corner", (0, 0.12, 0)), ("end", (0.12, 0.12, 0))):
        goal = T.copy()
        goal[:3, 3] += offset
        found = base.arm.inverse(goal)
        points[name] = found[np.argmin(np.abs(found - HOME).max(axis=1))]
    axis = T[:3, :3] @ [0, 0, 1.0]
    place = T[:3, 3] + 0.1 * axis + [0.033, 0.087, 0]
    post = body(ball(0.008, fineness=2), "post", at=place)

    def of(distance):
        moves = [rounded(linear("corner"), distance), linear("end")]
        return cell(points, moves, bodies=[post], pieces=NOZZLE, links=[box((0.01,) * 3)] * 7,
                    margins=(0.002, 0.001, 0.001))  # fmt: skip

    return of


def test_a_post_in_the_inside_is_clear_sharp_and_hit_round():
    of = inside_corner()
    sharp, mild, wide = (check(of(d)) for d in (0.0, 0.01, 0.09))
    assert not [f for f in sharp.findings if f.body == "post" and f.level is Level.STOP]
    stops = [f for f in wide.findings if f.kind == "contact" and f.body == "post"]
    assert stops and all("rounds 'corner' as far as it may" in f.text for f in stops)
    assert {f.move for f in stops} == {1, 2}  # both moves share the corner
    worst = [min(p.clearance.lower for m in r.moves for p in m.pairs if p.body == "post")
             for r in (sharp, mild, wide)]  # fmt: skip
    assert worst[0] >= worst[1] >= worst[2] == 0


@pytest.mark.parametrize("distance", [0.01, 0.03, 0.045, 0.06])
def test_the_quick_number_is_that_of_the_corner_where_it_is_the_least(distance):
    c = inside_corner()(distance)
    trajectory, engine = plan_program(c), FastEngine(c)
    pairs = [pair for move in measure_moves(c, trajectory, engine) for pair in move.noteworthy]
    spare = {(pair.piece, pair.body): -np.inf if pair.clearance.touches
             else pair.clearance.lower - pair.margin for pair in pairs
             if pair.stretch.corner}  # fmt: skip
    least = least_clearance(c, trajectory, engine)
    assert min(spare, key=spare.get) == (least.piece, least.body) == ("nozzle", "post")
    assert least.spare == min(spare.values())
    assert least.lower == min(pair.clearance.lower for pair in pairs)


def test_the_chart_never_shows_more_than_the_corner_allows():
    result = check(inside_corner()(0.09))
    profile = clearance_profile(result.cell, result.trajectory, moves=result.moves)
    first = result.trajectory.tracks[0]
    corner = corner_of(result.cell, result.trajectory.tracks, 0)
    inside = (profile.t[:-1] >= corner.start) & (profile.t[1:] <= corner.end)
    assert inside.any() and np.nanmax(profile.guaranteed[inside]) == 0
    assert first.t[0] < corner.start


def test_bounds_on_a_plane_where_everything_is_known():
    """A point in a plane, its joints its coordinates: the family's true distance is sampled.

    Curved zones and obstacles anywhere near, so that a bound that is a little short shows.
    """
    rng = np.random.default_rng(4)
    useful = 0
    for count in range(60):
        bend = rng.uniform(-0.02, 0.02, 2)
        s = np.linspace(0, 1, 9)
        arch = 4 * s * (1 - s)
        first = np.column_stack([0.08 * (s - 1), bend[0] * arch])
        turn = rng.uniform(0.3, 2.6)
        way = np.array([np.cos(turn), np.sin(turn)])
        across = np.array([-way[1], way[0]])
        second = 0.08 * s[:, None] * way + bend[1] * arch[:, None] * across
        corner = Corner("c", 1, 0.0, 1.0, 2.0, first, second)
        knots_in, knots_out = first[rng.integers(9, size=4000)], second[rng.integers(9, size=4000)]
        u = rng.random((4000, 1))
        family = np.concatenate([(1 - u) * knots_in + u * knots_out, first, second])
        # an obstacle beside some member, outside or inside of the corner
        obstacle = family[rng.integers(len(family))] + rng.normal(0, 0.01, 2)
        true = np.linalg.norm(family - obstacle, axis=1).min()

        def gaps(q, most, at=obstacle):
            return np.minimum(np.linalg.norm(q - at, axis=1), most)

        def reach(_centres, deltas):
            return np.linalg.norm(deltas, axis=2).max(axis=1)

        margin = (0.0, 0.9, 1.1)[count % 3] * true
        lower, seen = least_in_family(corner, np.ones(2), (gaps, reach), (0.05, margin))
        assert lower <= true + 1e-9
        useful += lower > true - 3e-3
        gap = np.linalg.norm(seen.q - obstacle)
        assert seen.distance == pytest.approx(gap, abs=1e-12) and seen.distance >= lower
    assert useful > 50


@pytest.mark.parametrize("count", [1, 2, 3])
def test_axes_that_do_not_move_the_piece_say_nothing(count):
    """A point in space, its joints its coordinates, of which only ``count`` move it."""
    rng = np.random.default_rng(count)
    levers = (np.arange(3) < count).astype(float)
    for _ in range(30):
        turns = np.cumsum(rng.normal(0, 0.03, (7, 3)), axis=0)
        corner = Corner("c", 1, 0.0, 1.0, 2.0, turns[:4], turns[3:])
        family = members(corner, rng, 2000)[:, :count]
        obstacle = family[rng.integers(len(family))] + rng.normal(0, 0.02, count)
        true = np.linalg.norm(family - obstacle, axis=1).min()

        def gaps(q, most, at=obstacle):
            return np.minimum(np.linalg.norm(q[:, :count] - at, axis=1), most)

        def reach(_centres, deltas):
            return np.linalg.norm(deltas[:, :, :count], axis=2).max(axis=1)

        lower, seen = least_in_family(corner, levers, (gaps, reach), (0.05, 0.0))
        assert lower <= true + 1e-9
        assert seen.distance <= true + 2e-3 + 0.05 * true
        if count == 1:
            assert lower >= true - 1.6e-3 - SHARE * true


def test_reach_holds_for_large_turns():
    """How far the piece's points really go, for mixtures of joint steps up to half a radian."""
    rng = np.random.default_rng(9)
    c = corner_cell(np.random.default_rng(1), 0.05, [body(ball(0.05))])
    (thing,) = obstacles(c)
    piece = c.arm_pieces[0]
    linkage = linkage_of(c, chain_id(piece, thing))
    levers = linkage.levers(piece.link, piece.mesh, np.zeros(6))

    def bound_of(q, deltas):
        return reach(linkage, piece, levers, q[None], deltas[None])[0]

    ratios = []
    for _ in range(150):
        q = HOME + rng.uniform(-0.5, 0.5, 6)
        deltas = rng.uniform(-0.5, 0.5, (4, 6)) * (rng.random(6) < 0.5)
        bound = bound_of(q, deltas)
        weights = np.vstack([np.eye(4), rng.dirichlet(np.ones(4), 30)])
        before = piece.mesh.vertices @ c.link_poses(q[None])[0, 6, :3, :3].T
        before = before + c.link_poses(q[None])[0, 6, :3, 3]
        T = c.link_poses(q + weights @ deltas)[:, 6]
        after = piece.mesh.vertices @ np.swapaxes(T[:, :3, :3], 1, 2) + T[:, None, :3, 3]
        way = np.linalg.norm(after - before, axis=-1).max()
        assert way <= bound + 1e-12
        # small steps: the bound is the real way to the first order
        small = bound_of(q, deltas * 1e-4)
        T = c.link_poses(q + deltas * 1e-4)[:, 6]
        after = piece.mesh.vertices @ np.swapaxes(T[:, :3, :3], 1, 2) + T[:, None, :3, 3]
        way = np.linalg.norm(after - before, axis=-1).max()
        assert way <= small * (1 + 1e-9)
        ratios.append(way / small if small > 0 else 1.0)
    assert min(ratios) > 0.99


def test_the_zone_counts_by_whatever_reaches_farthest():
    """The tip hardly moves in the shop while the table turns the part under it."""
    table = turning_table((0.6, 0, 0))
    points = {"home": [*HOME, 0.0], "middle": [*(HOME + [0.02, 0, 0, 0, 0, 0]), 1.0],
              "end": [*(HOME + [0.04, 0, 0, 0, 0, 0]), 0.0]}  # fmt: skip
    c = cell(points, [rounded(joint("middle"), 0.01), joint("end")], pieces=NOZZLE, table=table)
    first, second = plan_program(c).tracks
    corner = corner_of(c, (first, second), 0)
    tips = c.tool_poses(corner.before)[:, :3, 3]
    assert np.linalg.norm(np.diff(tips, axis=0), axis=1).sum() >= 0.01  # in the shop
    on_part = c.tips_on_part(corner.before)
    assert np.linalg.norm(np.diff(on_part, axis=0), axis=1).sum() > 0.1


def test_a_move_of_no_length_does_not_hide_a_corner():
    rng = np.random.default_rng(5)
    c = corner_cell(rng, 0.05)
    moves = (c.program.moves[0], joint("middle"), c.program.moves[1])
    through = dataclasses.replace(c, program=dataclasses.replace(c.program, moves=moves))
    tracks = plan_program(through).tracks
    corner = corner_of(through, tracks, 0)
    assert corner is not None and corner.following == 2
    result = check(dataclasses.replace(through, bodies=(body(ball(0.05), at=(9, 9, 9)),)))
    assert [any(p.stretch.corner for p in m.pairs) for m in result.moves] == [True, False, True]
    assert not [f for f in result.findings if f.kind == "rounding"]


def test_few_looks_decide_the_corners_of_a_whole_cell(monkeypatch):
    """Nearly all pairs are far: boxes tell so; the others are looked at no closer than it needs."""
    sample = pathsim.load_cell(SAMPLES / "gate_hinge")
    moves = [rounded(move, 0.03) if number in (0, 3) else move
             for number, move in enumerate(sample.program.moves)]  # fmt: skip
    looks = []
    exact = FastEngine.distances

    def counted(self, piece, standing, poses, cap, enough=0.0):
        looks.append(len(poses))
        return exact(self, piece, standing, poses, cap, enough)

    monkeypatch.setattr(FastEngine, "distances", counted)
    c = sample.with_program("home", *moves)
    result = check(c, engine=FastEngine(c))
    rounding = [pair for move in result.moves for pair in move.pairs if pair.stretch.corner]
    assert len(rounding) > 200 and result.is_clear
    assert sum(looks) < 900 and len(looks) < 250


def test_what_is_kept_of_a_corner_is_never_old():
    """After each edit the same as a check that begins with nothing, points and all."""
    sample = pathsim.load_cell(SAMPLES / "gate_hinge")
    moves = [rounded(move, 0.03) if number in (0, 3) else move
             for number, move in enumerate(sample.program.moves)]  # fmt: skip
    c = sample.with_program("home", *moves)
    session = Session()
    session.check(c)
    rng = np.random.default_rng(2)
    clamp = next(one for one in c.bodies if one.name == "left clamp")
    T = np.array(c.T_world_base)
    T[:3, 3] += [0.003, 0.0, 0.004]
    place = np.array(clamp.T_world_body)
    place[:3, 3] += [0, -0.03, 0]
    nearer = dataclasses.replace(clamp, T_world_body=place)
    edits = [
        c.with_body(nearer),
        dataclasses.replace(c, T_world_base=T),
        dataclasses.replace(c, margins=dataclasses.replace(c.margins, air=0.034)),
        c.with_point("retract", q=c.points["retract"].q + rng.normal(0, 1e-5, 6)),
        c,
    ]
    for edited in edits:
        kept, anew = session.check(edited), check(edited)
        pairs = [(pair, other) for move, fresh in zip(kept.moves, anew.moves, strict=True)
                 for pair, other in zip(move.pairs, fresh.pairs, strict=True)
                 if pair.stretch.corner]  # fmt: skip
        assert len(pairs) > 200
        for pair, other in pairs:
            one, same = pair.clearance, other.clearance
            assert (one.lower, one.upper, one.time) == (same.lower, same.upper, same.time)
            np.testing.assert_array_equal(one.on_moving, same.on_moving)
            np.testing.assert_array_equal(one.on_standing, same.on_standing)
        least = min(pair.clearance.lower for move in anew.moves for pair in move.pairs)
        assert session.evaluate(edited).lower == least

"""Planned air sections: proved as a check proves them, and the same each time."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest

from pathsim.advice import Evaluator, changed
from pathsim.advice.edges import Edge, EdgeProver
from pathsim.advice.planned import planned, section_moves
from pathsim.advice.roots import directions, tool_at_length
from pathsim.advice.way_graph import WayGraph, joint_seconds
from pathsim.advice.way_points import GRID, offset_in_words
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.files import load_cell
from pathsim.findings.places import joints_at, lifted, up
from pathsim.findings.weld_places import weld_points
from pathsim.model import Body, Role
from pathsim.motion import plan_program
from pathsim.motion.joint_move import lay_joint_move
from pathsim.session import Session
from pathsim.transforms import frozen, translation
from tests.advice.test_advise import SAMPLES, by_reference, grave
from tests.builders import box
from tests.clearance.oracle import dense_distances


def evaluator_of(cell):
    return Evaluator(cell, Session())


@pytest.fixture(scope="module")
def walled():
    """No retract, and a wall across the way home where a high lift alone does not go round it."""
    cell = load_cell(SAMPLES / "gate_hinge_no_retract")
    track = plan_program(cell).tracks[-1]
    tip = cell.tool_poses(track.q_at(track.t[0] + 0.5 * track.duration))[0, :3, 3]
    wall = Body("wall", Role.CLAMP, box((0.03, 0.4, 0.5)), frozen(translation(tip)))
    evaluator = evaluator_of(replace(cell, bodies=(*cell.bodies, wall)))
    return evaluator, list(planned(evaluator, evaluator.before.trajectory.tracks[-1]))


def test_retract_and_points_on_the_way_are_one_change_that_clears(walled):
    evaluator, plans = walled
    best = plans[0]
    assert best.kind == "section" and "Teach 'retract'" in best.words
    assert not set(best.change.points) & weld_points(evaluator.cell)
    after = by_reference(changed(evaluator.cell, best.change))
    first, last = section_moves(evaluator, evaluator.before.trajectory.tracks[-1])
    new = range(first + 1, last + 2 + len(best.change.moves))
    assert not [f for f in grave(after) if f.move in new]
    assert not evaluator.worsened(best.change, after)


def test_every_new_move_keeps_its_margin_in_dense_sampling(walled):
    evaluator, plans = walled
    cell = changed(evaluator.cell, plans[0].change)
    trajectory, looked = plan_program(cell), 0
    for one in queries_of(cell, trajectory, obstacles(cell), ()):
        track, piece, standing, window = one.question
        if track.number < 4 or not piece.is_torch:
            continue
        _, seen = dense_distances(cell, track, piece, standing, window, 60)
        assert seen.min() >= one.margin
        looked += 1
    assert looked > 20


def test_the_same_cell_gives_the_same_plan(walled):
    evaluator, plans = walled
    again = evaluator_of(evaluator.cell)
    other = next(planned(again, again.before.trajectory.tracks[-1]))
    assert {k: q.tolist() for k, q in other.change.points.items()} == {
        k: q.tolist() for k, q in plans[0].change.points.items()
    }
    assert other.words == plans[0].words


def test_points_are_what_a_programmer_would_teach(walled):
    """To 10 mm from a known point with its torch, or to a whole degree in all joints."""
    evaluator, plans = walled
    cell = evaluator.cell
    known = {name: cell.tool_poses(cell.points[name].q[None])[0] for name in ("weld end", "home")}
    for name, q in plans[0].change.points.items():
        if name == "retract":
            continue
        T = cell.tool_poses(q[None])[0]
        told = [K for K in known.values() if np.allclose(T[:3, :3], K[:3, :3], atol=1e-6)]
        steps = [(T[:3, 3] - K[:3, 3]) / GRID for K in told]
        in_degrees = np.degrees(q)
        assert any(np.allclose(s, np.round(s), atol=1e-3) for s in steps) or np.allclose(
            in_degrees, np.round(in_degrees), atol=1e-6
        )


def test_moves_by_a_weld_have_the_margins_that_a_check_gives_them():
    """Asked for the air margin on all its length, no move could ever leave a weld."""
    cell = load_cell(SAMPLES / "gate_hinge")
    evaluator = evaluator_of(cell)
    tracks = evaluator.before.trajectory.tracks
    seam, retract, home = tracks[2:5]
    prover = EdgeProver(cell, evaluator.session, home.move.speed, retract.move.speed)
    leaves = Edge(retract.q[0], retract.q[-1], is_straight=True, leaves=seam.move)
    alone = replace(leaves, leaves=None)
    by_weld, in_the_air, on = prover.spare([leaves, alone, Edge(home.q[0], home.q[-1])])
    assert by_weld >= 0 and on >= 0
    assert in_the_air < 0
    moves = evaluator.before.moves
    for spare, move in ((by_weld, moves[3]), (on, moves[4])):
        told = min(p.clearance.lower - p.margin for p in move.noteworthy)
        assert spare == pytest.approx(min(told, prover.most), abs=1e-3)


def test_a_move_into_a_body_or_past_a_limit_has_nothing_to_spare():
    cell = load_cell(SAMPLES / "gate_hinge")
    evaluator = evaluator_of(cell)
    end = evaluator.before.trajectory.tracks[2].q[-1]
    prover = EdgeProver(cell, evaluator.session, 0.4, 0.1)
    into = lifted(cell, end, -up(), 0.05)
    past = cell.axes.upper + 0.1
    assert (prover.spare([Edge(end, into), Edge(end, past)]) == -np.inf).all()
    assert prover.spare([]).shape == (0,)


def test_what_failed_before_is_asked_about_first_and_changes_no_answer():
    """Against a prover that knows nothing yet, move by move."""
    cell = load_cell(SAMPLES / "gate_hinge_no_retract")
    evaluator = evaluator_of(cell)
    rng = np.random.default_rng(4)
    ends = [cell.points[name].q for name in ("home", "weld end")]
    edges = []
    for _ in range(60):
        share = rng.uniform(0, 1, 2)
        a, b = (ends[0] + s * (ends[1] - ends[0]) + rng.normal(0, 0.08, len(ends[0]))
                for s in share)  # fmt: skip
        edges.append(Edge(a, b))
    prover = EdgeProver(cell, evaluator.session, 0.4, 0.1)
    told = np.concatenate([prover.spare(edges[k : k + 10]) for k in range(0, 60, 10)])
    assert prover._suspects
    alone = [EdgeProver(cell, evaluator.session, 0.4, 0.1).spare([edge])[0] for edge in edges]
    clear = told >= 0
    assert 5 < clear.sum() < 55
    assert np.array_equal(clear, np.array(alone) >= 0)
    assert np.array_equal(told[clear], np.array(alone)[clear])


def test_a_place_not_exactly_known_takes_off_what_there_is_to_spare():
    """Distances have to be told apart as far as the widened margin, and beyond it."""
    cell = load_cell(SAMPLES / "gate_hinge")
    first = plan_program(cell).tracks[0]  # clears the left clamp by 36 mm, 10 are asked for
    for known_to in (0.02, 0.03):
        bodies = tuple(replace(body, known_to=known_to) for body in cell.bodies)
        other = replace(cell, bodies=bodies)
        evaluator = evaluator_of(other)
        prover = EdgeProver(other, evaluator.session, first.move.speed, 0.1)
        told = evaluator.before.moves[0].worst.clearance.lower - 0.01 - known_to
        (spare,) = prover.spare([Edge(first.q[0], first.q[-1])])
        assert spare == pytest.approx(told, abs=1e-3)
    assert spare < 0


def test_seconds_of_joint_moves_are_those_of_the_laid_ones():
    cell = load_cell(SAMPLES / "gate_hinge")
    rng = np.random.default_rng(3)
    levers = np.ones(len(cell.axes.names))
    for _ in range(20):
        a = cell.points["home"].q
        b = a + rng.normal(0, 0.5, len(a))
        told = float(joint_seconds(cell.axes, 0.3, a, b))
        laid = lay_joint_move(cell.axes, a, b, 0.3, levers)[0][-1]
        assert told == pytest.approx(laid, rel=1e-6) or cell.axes.jerk is not None


@pytest.mark.parametrize("looks", [False, True])
@pytest.mark.parametrize("seed", range(24))
def test_the_graph_finds_the_cheapest_proved_way(seed, looks):
    """Against all ways by up to three points, tried one by one; looks see some that are blocked."""
    rng = np.random.default_rng(seed)
    starts, ends, between = 2, 2, 3
    count = starts + ends + between
    seconds, price = rng.uniform(1, 2, (count, count)), rng.uniform(0, 0.5, count)
    truth = np.where(rng.random((count, count)) < 0.45, 1.0, -1.0)
    seen = truth + 2.0 * (rng.random((count, count)) < 0.4) > 0  # of the blocked some are not seen
    looked = []

    def look(moves):
        looked.extend(moves)
        return np.array([seen[move] for move in moves], dtype=bool)

    graph, asked = WayGraph(starts, ends, price, seconds, look if looks else None), []
    graph.look_at([(0, 2), (0, 3)])

    def prove(moves):
        asked.extend(moves)
        return np.array([truth[move] for move in moves])

    way = graph.best(prove, 10_000, 0.0)
    all_ways = [
        (a, *via, b)
        for a in range(starts)
        for b in range(starts, starts + ends)
        for n in range(4)
        for via in product(range(starts + ends, count), repeat=n)
    ]
    clear = [w for w in all_ways if all(truth[move] > 0 for move in pairwise(w))]
    if not clear:
        assert way is None
        return
    assert way is not None and all(truth[move] > 0 for move in pairwise(way))
    assert graph.price_of(way) == pytest.approx(min(map(graph.price_of, clear)))
    assert len(asked) == len(set(asked)) and len(looked) == len(set(looked))
    assert bool(looked) == looks and all(seen[move] for move in asked if looks)
    assert graph.best(prove, 100, 0.0, below=0.1) is None
    # Asked anew for what is hardly dearer than the cheapest, it is found all the same.
    asked.clear(), looked.clear()
    graph = WayGraph(starts, ends, price, seconds, look if looks else None)
    limit = min(map(graph.price_of, clear)) + 1e-6
    way = graph.best(prove, 10_000, 0.0, below=limit)
    assert way is not None and graph.price_of(way) < limit


def test_legs_go_where_their_words_say():
    cell = load_cell(SAMPLES / "gate_hinge")
    end = plan_program(cell).tracks[2].q[-1]
    T = cell.tool_poses(end[None])[0]
    seen = {}
    for way in directions(cell, end):
        q = joints_at(cell, tool_at_length(T, way, 0.05), end)
        if q is None:
            continue
        seen[way.words] = cell.tool_poses(q[None])[0]
        assert np.linalg.norm(seen[way.words][:3, 3] - T[:3, 3]) == pytest.approx(0.05, abs=1e-6)
    assert np.allclose(seen["straight up"][:3, 3] - T[:3, 3], [0, 0, 0.05], atol=1e-6)
    back = seen["back along the wire"][:3, 3] - T[:3, 3]
    assert np.allclose(back / 0.05, -T[:3, 2], atol=1e-6)
    turned = [T1 for words, T1 in seen.items() if "turned +30 deg" in words]
    for T1 in turned:
        assert np.allclose(T1[:3, 2], T[:3, 2], atol=1e-6)  # about the wire: it stays
        assert T1[:3, 0] @ T[:3, 0] == pytest.approx(np.cos(np.radians(30)), abs=1e-6)


@pytest.mark.parametrize(
    ("off", "words"),
    [
        ((0, 0, 0.2), "200 mm above"),
        ((0, 0, -0.03), "30 mm below"),
        ((0.1, 0, 0.2), "200 mm above, 100 mm towards +x from"),
        ((0, -0.05, 0), "50 mm towards -y from"),
    ],
)
def test_places_are_said_from_a_known_point(off, words):
    assert offset_in_words(np.array(off, float)) == words


def test_a_way_without_points_is_not_missed_for_all_those_with_some():
    """Many ways over points look cheaper, and none of them is clear: they use up what is proved."""
    count = 400
    seconds, price, truth = (np.full(shape, 1.0) for shape in ((count,) * 2, count, (count,) * 2))
    price[:] = 0.1
    seconds[0, 2], seconds[1, 2] = 2.25, 2.5  # straight there, from either of two starts
    seconds[1, 3:] = 2.0
    truth[0, 3:] = -1.0  # from the first start to no point
    asked = []

    def prove(moves):
        asked.extend(moves)
        return np.array([truth[move] for move in moves])

    assert WayGraph(2, 1, price, seconds).best(prove, 500, 0.0) == [0, 2]
    assert len(asked) <= 300

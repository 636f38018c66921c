"""The fast engine in its place: same answers as the reference engine, less work after an edit."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.engine import SPAN_TRAVEL
from pathsim.clearance.joint_pairs import own_pairs
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.clearance.swept.cache import EngineCache
from pathsim.clearance.swept.engine import FastEngine
from pathsim.files import load_cell
from pathsim.motion import MoveCache, plan_program
from pathsim.transforms import translation
from tests.benchmarks.clearance_scenes import random_moves
from tests.clearance.swept.cases import how_many

SAMPLES = Path(__file__).parents[3] / "sample_cells"
NAMES = sorted(path.parent.name for path in SAMPLES.glob("*/cell.yaml"))


def asked(cell, trajectory):
    return queries_of(cell, trajectory, obstacles(cell), own_pairs(cell)).queries


def assert_agree(fast, slow, tolerance=5e-4):
    """Both intervals hold the true distance, so that they overlap; and neither is too wide."""
    if fast.touches != slow.touches:
        # Less apart than the path error and the finest interval: one end at 0, the other a
        # hair above it, are both right.
        assert max(fast.upper, slow.upper) < 4e-5 and max(fast.lower, slow.lower) < 1e-5
    assert fast.is_inside == slow.is_inside
    assert fast.lower <= slow.upper + 1e-9 and slow.lower <= fast.upper + 1e-9
    assert abs(fast.lower - slow.lower) <= tolerance + 1e-4


@pytest.mark.parametrize("name", NAMES)
def test_sample_cells_give_the_same_findings(name):
    cell = load_cell(SAMPLES / name)
    fast, slow = check(cell, engine=FastEngine(cell)), check(cell, engine=ReferenceEngine(cell))
    for a, b in zip(fast.moves, slow.moves, strict=True):
        for x, y in zip((*a.pairs, *a.own), (*b.pairs, *b.own), strict=True):
            assert (x.piece, x.body, x.stretch) == (y.piece, y.body, y.stretch)
            assert_agree(x.clearance, y.clearance)
    about = [[(f.level, f.kind, f.move, f.piece, f.body) for f in r.findings] for r in (fast, slow)]
    assert about[0] == about[1]
    for x, y in zip(fast.findings, slow.findings, strict=True):
        assert len(x.spans) == len(y.spans)
        for a, b in zip(x.spans, y.spans, strict=True):
            for one, other in ((a.start, b.start), (a.end, b.end)):
                assert abs(one - other) <= 0.02 or is_all_but_near(cell, fast, x, one, other)


def is_all_but_near(cell, result, finding, one, other):
    """Whether a pair is so near between two ends that a piece of ``SPAN_TRAVEL`` cannot tell.

    Where two slide past each other, an end told to half a millimetre may lie far off in time.
    """
    (piece,) = (p for p in cell.arm_pieces if p.name == finding.piece)
    (standing,) = (o for o in obstacles(cell) if o.name == finding.body)
    q = result.trajectory.tracks[finding.move - 1].q_at(np.linspace(one, other, 9))
    poses = cell.link_poses(q)[:, piece.link]
    limit = finding.numbers.get("margin", 0.0) + SPAN_TRAVEL
    return bool((FastEngine(cell).distances(piece, standing, poses, 1.0) <= limit).all())


def test_random_moves_agree_with_the_reference_engine():
    """Moves through everything: most of them touch something."""
    moves, near, touching = how_many(24, 2500), 0, 0
    for seed, name in enumerate(("gate_hinge", "deep_channel", "hanging_rail", "turned_collar")):
        cell = random_moves(load_cell(SAMPLES / name), moves // 4, seed)
        trajectory = plan_program(cell)
        queries = asked(cell, trajectory)
        fast = FastEngine(cell).min_distance(queries)
        slow = ReferenceEngine(cell).min_distance(queries)
        for x, y in zip(fast, slow, strict=True):
            assert_agree(x, y)
            near += not y.is_capped
            touching += y.touches
    assert near > moves and touching > moves / 4


def test_one_thread_and_two_give_the_same_bytes():
    cell = load_cell(SAMPLES / "gate_hinge")
    queries = asked(cell, plan_program(cell))
    one, two = (FastEngine(cell, threads=n).min_distance(queries) for n in (1, 2))
    assert [(c.lower, c.upper, c.time) for c in one] == [(c.lower, c.upper, c.time) for c in two]


def checked(cell, memory, laid):
    engine = FastEngine(cell, memory=memory)
    found = engine.min_distance(asked(cell, plan_program(cell, laid)))
    return found, engine.counts.copy()


def test_after_an_edit_only_what_changed_is_measured_and_nothing_old_is_used():
    cell = load_cell(SAMPLES / "gate_hinge")
    memory, laid = EngineCache(), MoveCache()
    _, whole = checked(cell, memory, laid)
    again, none = checked(cell, memory, laid)
    assert (none == 0).all() and len(again) > 100
    name = cell.program.moves[3].target
    point = cell.points[name]
    q = np.array(point.q) + [0.02, 0, 0, 0, 0, 0]
    other = replace(cell, points={**cell.points, name: replace(point, q=q, T_base_tcp=None)})
    found, some = checked(other, memory, laid)
    assert 0 < some[0] < 0.7 * whole[0]
    fresh, _ = checked(other, EngineCache(), MoveCache())
    assert [(c.lower, c.upper) for c in found] == [(c.lower, c.upper) for c in fresh]


def test_a_body_that_moved_is_measured_anew_and_no_other():
    cell = load_cell(SAMPLES / "gate_hinge")
    memory, laid = EngineCache(), MoveCache()
    _, whole = checked(cell, memory, laid)
    body = cell.bodies[-1]
    T = translation([0.0, 0.0, 0.02]) @ body.T_world_body
    other = replace(cell, bodies=(*cell.bodies[:-1], replace(body, T_world_body=T)))
    found, some = checked(other, memory, laid)
    assert 0 < some[0] < 0.7 * whole[0]
    fresh, _ = checked(other, EngineCache(), MoveCache())
    assert [(c.lower, c.upper) for c in found] == [(c.lower, c.upper) for c in fresh]


def test_a_point_beside_a_seam_leaves_the_seam_as_it_is():
    """The seam starts where it did, come to from another side, and later: it is not done anew."""
    cell = load_cell(SAMPLES / "gate_hinge")
    assert [m.target for m in cell.program.moves[:3]] == ["approach", "weld start", "weld end"]
    point = cell.points["approach"]
    memory, laid = EngineCache(), MoveCache()
    before = plan_program(cell, laid)
    checked(cell, memory, laid)
    for turn in (0.003, 0.01, -0.02):
        q = point.q + turn * np.eye(6)[0]
        points = {**cell.points, "approach": replace(point, q=q, T_base_tcp=None)}
        other = replace(cell, points=points)
        after = plan_program(other, laid)
        same = [a.q is b.q for a, b in zip(before.tracks, after.tracks, strict=True)]
        assert same == [False, False, True, True, True]
        found, some = checked(other, memory, laid)
        fresh, alone = checked(other, EngineCache(), MoveCache())
        assert some[0] < 0.5 * alone[0]
        assert [(c.lower, c.upper) for c in found] == [(c.lower, c.upper) for c in fresh]


def test_what_is_kept_of_a_move_is_not_kept_of_one_with_other_knots():
    """Else old stretches would stand for new ones, and read as clear."""
    track = plan_program(load_cell(SAMPLES / "gate_hinge")).tracks[1]
    assert track.kept.once("a", lambda: 1) == 1 == track.kept.once("a", lambda: 2)
    assert track.at(5.0, 3, track.move).kept is track.kept
    assert replace(track, q=track.q + 0.1).kept.once("a", lambda: 3) == 3
    assert replace(track, t=2 * track.t).kept.once("a", lambda: 4) == 4


def test_laid_moves_are_the_same_moves():
    for name in NAMES:
        cell = load_cell(SAMPLES / name)
        laid = MoveCache()
        first = plan_program(cell, laid)
        for again in (plan_program(cell, laid), plan_program(cell)):
            for a, b in zip(first.tracks, again.tracks, strict=True):
                assert np.array_equal(a.t, b.t) and np.array_equal(a.q, b.q)
                assert (a.fault, a.detour, a.detour_time) == (b.fault, b.detour, b.detour_time)
            assert first.notes == again.notes


def test_giving_up_stops_the_work():
    cell = load_cell(SAMPLES / "gate_hinge")

    class EnoughError(Exception):
        pass

    def stop(_share):
        raise EnoughError

    with pytest.raises(EnoughError):
        FastEngine(cell).min_distance(asked(cell, plan_program(cell)), stop)

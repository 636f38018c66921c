"""Boxes round all of a way: nothing of a piece is ever outside of its own."""

import dataclasses

import numpy as np
import pytest

from pathsim.clearance.engine import PairQuery, Span
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.swept.broad_phase import box_gaps
from pathsim.clearance.swept.chain_motion import ChainMotion
from pathsim.clearance.swept.engine import FastEngine
from pathsim.clearance.swept.jobs import PackedObstacle
from pathsim.errors import CannotCheck
from pathsim.model import Piece, Role
from pathsim.model.linkage import Linkage
from pathsim.motion import PATH_ERROR, plan_program
from pathsim.transforms import pose, translation
from tests.builders import body, box, cell, joint
from tests.clearance.swept.cases import Case, how_many, random_case


def corners_of(case, count=60):
    """All corners of the piece, in the chain's frame, at many moments: ``(m, 3)``."""
    times = np.linspace(case.times[0], case.times[-1], count)
    T = case.link_poses(np.concatenate([times, case.times]))
    there = np.einsum("tij,pj->tpi", T[:, :3, :3], case.piece.mesh.vertices)
    return (there + T[:, None, :3, 3]).reshape(-1, 3)


def test_nothing_of_a_piece_leaves_its_box():
    rng = np.random.default_rng(41)
    slack = []
    for k in range(how_many(200, 4000)):
        case = random_case(rng, sharp=k % 3 == 0)
        reach, points = case.part.course.reach[0], corners_of(case)
        assert (points >= reach[:3]).all() and (points <= reach[3:]).all()
        span = points.max(axis=0) - points.min(axis=0)
        slack.append(np.max((reach[3:] - reach[:3] - span) / (span + 1e-3)))
    assert np.median(slack) < 1.0  # and it is no barn, though knots are few here


def test_the_box_holds_the_bulge_of_an_arc_between_two_knots():
    """One swing as one segment: its middle is farther out than either end."""
    linkage = Linkage(np.eye(4)[None], np.eye(4)[None], np.zeros(1, bool), (0,), np.ones(1), 0)
    for angle in (0.1, 0.5, 1.0):
        piece = Piece("piece", 1, box((0.01, 0.01, 0.01), (1.0, 0, 0)), is_torch=True)
        thing = Obstacle("thing", Role.OTHER, box(), pose(np.eye(3), [3.0, 0, 0]))
        q = np.array([[-angle / 2], [angle / 2]])
        case = Case(linkage, piece, thing, q, np.array([0.0, 1.0]))
        reach = case.part.course.reach[0]
        assert corners_of(case).max(axis=0)[0] <= reach[3]
        ends = case.link_poses(case.times)[:, :3, :3] @ np.array([1.005, 0.005, 0.005])
        assert ends[:, 0].max() < reach[3] - 0.9 * (1 - np.cos(angle / 2))


def test_a_motion_that_is_not_a_number_is_refused_and_not_called_far():
    case = random_case(np.random.default_rng(7))
    levers, q = case.links.levers.copy(), case.part.course.q.copy()
    levers[0, 0] = np.nan
    with pytest.raises(CannotCheck, match="not a number"):
        ChainMotion.of(dataclasses.replace(case.links, levers=levers), q, case.times)
    q[len(q) // 2, 0] = np.nan
    with pytest.raises(CannotCheck, match="not a number"):
        ChainMotion.of(case.links, q, case.times)


def test_what_is_beyond_by_boxes_is_beyond_in_truth():
    rng = np.random.default_rng(42)
    far = 0
    for k in range(how_many(300, 4000)):
        case = random_case(rng, sharp=k % 3 == 0)
        away = translation(rng.normal(0, 0.4, 3)) @ case.standing.T_ref_mesh
        case.standing = Obstacle("body", Role.OTHER, case.standing.source, away)
        gap = box_gaps(case.part.course.reach[0], PackedObstacle(case.standing, 0.05, 5e-4).box)
        true = case.distances(np.linspace(case.times[0], case.times[-1], 15)).min()
        assert gap <= true + 1e-9
        far += gap > 0.005
    assert far > 50


def test_gaps_of_boxes_in_closed_form():
    first = np.array([0.0, 0, 0, 1, 1, 1])
    for shift, gap in (
        ([0, 0, 0], 0.0),
        ([4, 0, 0], 3.0),
        ([4, -5, 0], 5.0),
        ([3, 4, -3], 17**0.5),
    ):
        second = first + np.tile(shift, 2)
        assert box_gaps(first, second) == pytest.approx(gap)
        assert box_gaps(second, first) == pytest.approx(gap)


@pytest.mark.parametrize("beyond", [-1e-4, 1e-4])
def test_the_cap_is_where_it_was(beyond):
    """A box above a resting arm, just within or beyond the cap: by either way the same is said."""
    q = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])
    c = cell({"home": q, "end": q + 1e-6}, [joint("end")])
    piece = c.arm_pieces[0]
    T = c.link_poses(q[None])[0, piece.link]
    top = (piece.mesh.vertices @ T[:3, :3].T + T[:3, 3])[:, 2].max()
    high = top + 0.05 + PATH_ERROR + beyond + 0.1
    at = T[:3, 3] * [1, 1, 0] + [0, 0, high]
    c = cell({"home": q, "end": q + 1e-6}, [joint("end")], bodies=[body(box((3, 3, 0.2)), at=at)])
    track = plan_program(c).tracks[0]
    engine = FastEngine(c, cap=0.05)
    thing = Obstacle("block", Role.OTHER, box((3, 3, 0.2)), translation(at))
    question = PairQuery(track, c.arm_pieces[0], thing, Span(float(track.t[0]), float(track.t[-1])))
    (found,) = engine.min_distance([question])
    true = 0.05 + PATH_ERROR + beyond
    assert found.lower == pytest.approx(0.05 if beyond > 0 else true, abs=5.3e-4)
    assert found.lower <= min(true, 0.05)
    assert (engine.counts.sum() == 0) == (beyond > 0)  # beyond it no kernel is asked

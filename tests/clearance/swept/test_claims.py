"""Every claim of the search, one by one, against sampled truth.

A test of the answers alone has no teeth: with most terms of a bound cut in half the answers
still come out right nearly always. So each bound of each node and leaf is held against the
true distance of just its triangles during just its time.
"""

import numpy as np
import pytest

from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.swept.box_bound import (
    box_bound,
    is_box_behind,
    is_triangle_behind,
    swept_bound,
    swept_obb,
    triangle_bound,
)
from pathsim.clearance.swept.jobs import intervals_of
from pathsim.clearance.swept.leaf_bound import BOUND, leaf_bound
from pathsim.clearance.swept.motion_bound import A, B
from pathsim.clearance.swept.records import QueryLimits
from pathsim.clearance.swept.search_node import RESULT, UPPER, bound_entry
from pathsim.clearance.swept.swept_pose import can_split, error_at, halves, sweep_over
from pathsim.geometry.triangle_distance import point_triangle, triangle_at
from pathsim.model import Mesh, Piece, Role
from pathsim.model.linkage import Linkage
from pathsim.transforms import pose, rotation_about
from tests.builders import ball, box
from tests.clearance.swept.cases import Case, how_many, random_case

_MOMENTS = 25


class Entry:
    """One node of a piece during one node of time, or a part of one segment."""

    def __init__(self, case, rng):
        self.case, self.pair, self.workspace = case, case.pair(), case.workspace()
        motion, tree = self.pair.motion, self.pair.piece
        self.node = int(rng.integers(len(motion.whole)))
        self.sphere = int(rng.integers(len(tree.sphere)))
        self.f0, self.f1 = 0.0, 1.0
        if not can_split(motion, self.node) and rng.random() < 0.5:
            self.f0 = rng.choice([0.0, 0.25, 0.5])
            self.f1 = self.f0 + 0.25
        self.describe()

    def describe(self):
        """Work out its sweep, its time and its triangles."""
        motion, tree = self.pair.motion, self.pair.piece
        a, b = motion.whole[self.node, A], motion.whole[self.node, B]
        sweep_over(self.pair, self.node, self.f0, self.f1, self.workspace.store)
        start, end = motion.times[a], motion.times[b]
        self.start = start + self.f0 * (end - start)
        self.end = start + self.f1 * (end - start)
        first, count = tree.links[self.sphere, 2:]
        triangles = tree.triangles[first : first + count].reshape(-1, 3)
        self.mesh = Mesh(triangles, np.arange(len(triangles)).reshape(-1, 3))

    def moments(self):
        inside = self.pair.motion.times
        inside = inside[(inside > self.start) & (inside < self.end)][:_MOMENTS]
        return np.concatenate([np.linspace(self.start, self.end, _MOMENTS), inside])

    def truth(self):
        """Least true distance of the node's own triangles in its own time, sampled."""
        return float(self.case.distances(self.moments(), self.mesh).min())

    def box_and_error(self):
        s = swept_obb(self.pair.piece, self.sphere, self.workspace.store)
        c = tuple(map(float, self.pair.piece.sphere[self.sphere, :3]))
        return s, error_at(self.workspace.store, self.pair.job, c, s.r)

    def world_points(self):
        """Corners of the node's triangles in the body's frame at all moments."""
        T = self.case.link_poses(self.moments())
        to_body = self.pair.to_body.reshape(3, 4)
        there = np.einsum("tij,pj->tpi", T[:, :3, :3], self.mesh.vertices) + T[:, None, :3, 3]
        return (there @ to_body[:, :3].T + to_body[:, 3]).reshape(-1, 3)


def entries(seed, count):
    rng = np.random.default_rng(seed)
    for k in range(count):
        if k % 5 == 0:
            case = random_case(rng, sharp=k % 15 == 0)
        yield rng, Entry(case, rng)


def test_bounds_of_boxes_and_triangles():
    """Any corner of the node is at least the bound, less E, from any box or triangle.

    So is what is told to be behind a plane by as much as was asked.
    """
    tight, told_of = [], 0
    for rng, entry in entries(21, how_many(400, 6000)):
        s, error = entry.box_and_error()
        points, tree = entry.world_points(), entry.pair.tree
        node = int(rng.integers(len(tree.box)))
        low, high = tree.box[node, :3], tree.box[node, 3:]
        gaps = np.linalg.norm(np.maximum(np.maximum(low - points, points - high), 0), axis=1)
        assert box_bound(tree.box, node, s) - error <= gaps.min() + 1e-9
        i = int(rng.integers(len(tree.triangles)))
        corners = [tuple(map(float, p)) for p in tree.triangles[i]]
        true = min(point_triangle(tuple(map(float, p)), *corners)[0] for p in points[::3])
        for limit in (np.inf, true, 0.5 * true):
            bound, plane = triangle_bound(tree.triangles, i, s, limit)
            assert bound - error <= true + 1e-9
            if plane.size == 0.0:
                assert bound == 0.0
                continue
            n = np.array(plane.n) / plane.size
            begins = (points @ n).min() + error
            assert plane.level / plane.size <= begins + 1e-9
            ends = np.maximum(n * tree.box[:, :3], n * tree.box[:, 3:]).sum(axis=1)
            walls = (tree.triangles @ n).max(axis=1)
            for far in (0.0, bound, 2.0 * bound + 0.01):
                told = [is_box_behind(plane, tree.box, k, far) for k in range(len(tree.box))]
                assert (begins - ends[told] >= far - 1e-9).all()
                behind = [is_triangle_behind(plane, triangle_at(tree.triangles, k), far)
                          for k in range(len(walls))]  # fmt: skip
                assert (begins - walls[behind] >= far - 1e-9).all()
                told_of += sum(told) + sum(behind)
        tight.append(bound / true if true > 0.01 else 0.0)
    assert max(tight) > 0.9 and told_of > 1000


def test_bounds_of_swept_boxes():
    held = 0
    for rng, entry in entries(22, how_many(400, 8000)):
        s, error = entry.box_and_error()
        true = entry.truth()
        for limit in (true + error + 1e-6, 2 * true + error + 0.01):
            for hint in (-1, int(rng.integers(len(entry.pair.tree.triangles)))):
                bound, *_ = swept_bound(
                    entry.pair.tree, s, limit, -np.inf, hint, 0, entry.workspace
                )
                assert bound - error <= true + 1e-9
        held += bound > 0
    assert held > 100


def test_bounds_of_leaves():
    """Also where the search would not have opened the leaf yet: the bound holds anyway."""
    checked = 0
    for rng, entry in entries(23, how_many(600, 8000)):
        if entry.pair.piece.links[entry.sphere, 0] >= 0:
            continue
        s, error = entry.box_and_error()
        true = entry.truth()
        for need in (true + error + 1e-5, 1.5 * true + error + 0.01):
            for hint in (-1, int(rng.integers(len(entry.pair.tree.triangles)))):
                leaf_bound(entry.pair, entry.sphere, s, need, 1e-5, False, hint, 0, entry.workspace)
                assert entry.workspace.found[BOUND] - error <= true + 1e-9
        checked += 1
    assert checked > 100


def test_a_leaf_left_in_a_hurry_was_below_what_was_asked():
    for rng, entry in entries(24, how_many(300, 3000)):
        if entry.pair.piece.links[entry.sphere, 0] >= 0:
            continue
        s, error = entry.box_and_error()
        need = entry.truth() + error + 0.02
        leaf_bound(entry.pair, entry.sphere, s, need, 1e-5, False, -1, 0, entry.workspace)
        is_below = entry.workspace.found[BOUND] < need
        for hint in (-1, int(rng.integers(len(entry.pair.tree.triangles)))):
            leaf_bound(entry.pair, entry.sphere, s, need, 1e-5, True, hint, 0, entry.workspace)
            assert (entry.workspace.found[BOUND] < need) == is_below


def test_entries_of_the_search():
    for rng, entry in entries(25, how_many(400, 8000)):
        true = entry.truth()
        for upper in (np.inf, true + 1e-6, true + 3e-4, 2 * true + 0.02):
            result = np.zeros(RESULT)
            result[UPPER] = upper
            hint = int(rng.integers(-1, len(entry.pair.tree.triangles)))
            bounded = bound_entry(
                entry.pair, entry.sphere, entry.node, -np.inf, hint, 0,
                QueryLimits(5e-4, 0.05), entry.workspace, result,
            )  # fmt: skip
            assert bounded.lower <= true + 1e-9


def test_entries_that_look_only_where_their_parents_left_something():
    """From the whole pair down by random halves, as the search divides it."""
    narrowed = 0
    for rng, entry in entries(30, how_many(300, 4000)):
        entry.node, entry.sphere, entry.f0, entry.f1 = 0, entry.pair.job.sphere, 0.0, 1.0
        entry.describe()
        result = np.zeros(RESULT)
        result[UPPER] = entry.truth() + rng.choice([1e-6, 3e-4, 0.02])
        lower, hint, top = -np.inf, -1, 0
        for _ in range(16):
            bounded = bound_entry(
                entry.pair, entry.sphere, entry.node, lower, hint, top, QueryLimits(5e-4, 0.05),
                entry.workspace, result,
            )  # fmt: skip
            assert bounded.lower <= entry.truth() + 1e-9
            lower, hint, top = bounded.lower, bounded.hint, bounded.top
            narrowed += top > 0
            children = entry.pair.piece.links[entry.sphere, :2]
            if children[0] >= 0 and rng.random() < 0.6:
                entry.sphere = int(rng.choice(children))
            elif can_split(entry.pair.motion, entry.node):
                entry.node = int(rng.choice(halves(entry.pair.motion, entry.node)))
            else:
                middle = (entry.f0 + entry.f1) / 2
                late = rng.random() < 0.5
                entry.f0, entry.f1 = (middle, entry.f1) if late else (entry.f0, middle)
            entry.describe()
    assert narrowed > 300


def circling(rng, around):
    """A small ball carried round circles by two slides, and a small one ``around`` (rad) beside."""
    fixed = np.stack([pose([[0, 0, 1], [1, 0, 0], [0, 1, 0]], [0, 0, 0]),
                      pose([[0, 0, 1], [1, 0, 0], [0, 1, 0]], [0, 0, 0])])  # fmt: skip
    slides = np.ones(2, bool)
    linkage = Linkage(fixed, np.stack([np.eye(4)] * 2), slides, (0, 1), np.ones(2), 0)
    s = np.linspace(0, 1, 60)[:, None]
    turn = 2 * np.pi * (2 * s + rng.random())
    q = np.concatenate([0.02 * np.cos(turn), 0.02 * np.sin(turn) + 0.001 * s], axis=1)
    piece = Piece("piece", 2, ball(0.002, fineness=1), is_torch=True)
    case = Case(linkage, piece, Obstacle("body", Role.OTHER, ball(0.002, fineness=1), np.eye(4)),
                q, np.linspace(0, 1, 60))  # fmt: skip
    centre = case.link_poses(case.times)[:, :3, 3]
    axes = np.linalg.svd(centre - centre.mean(axis=0))[2]
    beside = np.cos(around) * axes[0] + np.sin(around) * axes[1]
    T = pose(np.eye(3), centre.mean(axis=0) + 0.03 * beside)
    standing = Obstacle("body", Role.OTHER, ball(0.002, fineness=1), T)
    return Case(linkage, piece, standing, q, np.linspace(0, 1, 60))


def test_a_circle_is_as_wide_in_its_second_direction():
    """Whole circles in one node: on all sides the ball comes to within 6 mm of the other one."""
    rng = np.random.default_rng(26)
    wide = 0
    for around in np.linspace(0, 2 * np.pi, 24):
        case = circling(rng, around)
        entry = Entry(case, rng)
        entry.node, entry.sphere, entry.f0, entry.f1 = 0, 0, 0.0, 1.0
        sweep_over(entry.pair, 0, 0.0, 1.0, entry.workspace.store)
        s, error = entry.box_and_error()
        true = float(case.distances(np.linspace(0, 1, 2000)).min())
        assert 0.005 < true < 0.007
        wide += np.linalg.norm(s.w2) > 0.015
        bound, *_ = swept_bound(entry.pair.tree, s, 0.05, -np.inf, -1, 0, entry.workspace)
        assert bound - error <= true + 1e-9
    assert wide == 24


def swinging(mesh, knots, angle, beside):
    """A piece on one joint that swings by ``angle``; a small ball ``beside`` its farthest arc."""
    linkage = Linkage(np.eye(4)[None], np.eye(4)[None], np.zeros(1, bool), (0,), np.ones(1), 0)
    q = np.linspace(-angle / 2, angle / 2, knots)[:, None]
    T = pose(np.eye(3), [1.0 + beside, 0.0, 0.0])
    standing = Obstacle("body", Role.OTHER, ball(0.001, fineness=1), T)
    piece = Piece("piece", 1, mesh, is_torch=True)
    return Case(linkage, piece, standing, q, np.linspace(0, 1, knots))


def both(first, second):
    """Two meshes as one: its middle, from which turns are counted, is far from either."""
    vertices = np.concatenate([first.vertices, second.vertices])
    return Mesh(vertices, np.concatenate([first.faces, second.faces + len(first.vertices)]))


@pytest.mark.parametrize("knots", [2, 3, 9])
@pytest.mark.parametrize(
    "mesh", ["far from the joint", "about the joint", "beside the joint", "two about the joint"]
)
def test_an_arc_bulges_towards_what_stands_outside_of_it(knots, mesh):
    """All of the bulge has to be in the error: the chord keeps well away, the arc does not.

    Where the joint turns the piece about its own middle, it is the turn's share of the error
    that has to hold it, at the ends of the piece; beside the joint both have to.
    """
    rng = np.random.default_rng(27)
    made = {
        "far from the joint": ball(0.01, (0.99, 0, 0), 1),
        "about the joint": box((2.0, 0.002, 0.002)),
        "two about the joint": both(ball(0.01, (0.99, 0, 0), 1), ball(0.01, (-0.99, 0, 0), 1)),
        "beside the joint": box((0.7, 0.002, 0.002), (0.65, 0, 0)),
    }[mesh]
    for angle in (0.1, 0.5):
        case = swinging(made, knots, angle, beside=0.003)
        for sphere in range(len(case.trees.tree.sphere)):
            entry = Entry(case, rng)
            entry.node, entry.sphere = 0, sphere
            sweep_over(entry.pair, 0, 0.0, 1.0, entry.workspace.store)
            first, count = entry.pair.piece.links[sphere, 2:]
            corners = entry.pair.piece.triangles[first : first + count].reshape(-1, 3)
            part = Mesh(corners, np.arange(len(corners)).reshape(-1, 3))
            true = float(case.distances(np.linspace(0, 1, 401), part).min())
            s, error = entry.box_and_error()
            bound, *_ = swept_bound(entry.pair.tree, s, 1.0, -np.inf, -1, 0, entry.workspace)
            assert bound - error <= true + 1e-9
            if entry.pair.piece.links[sphere, 0] < 0:
                leaf_bound(entry.pair, sphere, s, 1.0, 1e-6, False, -1, 0, entry.workspace)
                assert entry.workspace.found[BOUND] - error <= true + 1e-9


@pytest.mark.parametrize("knots", [2, 3, 9])
def test_spans_hold_the_bulge_of_an_arc(knots):
    """The chord of the whole swing keeps far away, the arc comes within the limit."""
    for angle in (0.2, 0.8):
        case = swinging(ball(0.01, (0.99, 0, 0), 1), knots, angle, beside=0.003)
        times = np.linspace(0, 1, 801)
        near = case.distances(times) < 0.004
        assert near.any()
        spans = intervals_of(case.body, case.to_body, case.piece, case.whole, case.trees, 0.004,
                          case.counts)  # fmt: skip
        held = np.zeros(len(times), bool)
        for start, end in spans:
            held |= (times >= start - 1e-9) & (times <= end + 1e-9)
        assert held[near].all()


@pytest.mark.parametrize("part", [(0.0, 1.0), (0.0, 0.5), (0.3, 0.7), (0.9, 1.0)])
def test_part_of_a_segment_bulges_by_the_square_of_its_share(part):
    """One swing as one segment: the error of its part is all of the bulge, and hardly more."""
    rng = np.random.default_rng(28)
    f0, f1 = part
    for angle in (0.1, 0.5):
        case = swinging(ball(0.01, (0.99, 0, 0), 1), 2, angle, beside=0.003)
        # The body stands outside of the middle of the part.
        middle = angle * ((f0 + f1) / 2 - 0.5)
        T = pose(rotation_about([0.0, 0.0, 1.0], middle), np.zeros(3)) @ case.standing.T_ref_mesh
        standing = Obstacle("body", Role.OTHER, case.standing.source, T)
        case = Case(case.linkage, case.piece, standing, case.q, case.times)
        entry = Entry(case, rng)
        entry.node, entry.sphere, entry.f0, entry.f1 = 0, 0, f0, f1
        sweep_over(entry.pair, 0, f0, f1, entry.workspace.store)
        s, error = entry.box_and_error()
        true = float(case.distances(np.linspace(f0, f1, 401)).min())
        assert true == pytest.approx(0.002, abs=3e-4)
        bound, *_ = swept_bound(entry.pair.tree, s, 1.0, -np.inf, -1, 0, entry.workspace)
        assert bound - error <= true + 1e-9
        bulge = 1.0 - np.cos(angle * (f1 - f0) / 2)
        assert bulge <= error <= 1.1 * bulge


def test_an_opened_leaf_takes_the_bulge_off_its_bound():
    """Its triangles on their chords keep farther away than they do on the arc."""
    rng = np.random.default_rng(29)
    case = swinging(box((0.002, 0.002, 0.002), (0.999, 0, 0)), 2, 0.05, beside=0.003)
    true = float(case.distances(np.linspace(0, 1, 801)).min())
    opened, least = 0, np.inf
    for sphere in np.flatnonzero(case.trees.tree.links[:, 0] < 0).tolist():
        entry = Entry(case, rng)
        sweep_over(entry.pair, 0, 0.0, 1.0, entry.workspace.store)
        result = np.zeros(RESULT)
        result[UPPER] = np.inf
        bounded = bound_entry(entry.pair, sphere, 0, -np.inf, -1, 0, QueryLimits(5e-4, 0.05),
                              entry.workspace, result)  # fmt: skip
        opened, least = opened + bounded.opened, min(least, bounded.lower)
    assert opened > 0
    assert true - 1e-4 <= least <= true + 1e-9

"""Contact is told of where it begins, by either engine."""

import numpy as np
import pytest
from trimesh.triangles import closest_point

from pathsim.clearance.contact_time import at_first_touch
from pathsim.clearance.engine import Span
from pathsim.clearance.measure import measure_moves
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.records import Clearance, Inner
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.reference.mesh_distance import Shape, meeting_place
from pathsim.clearance.swept.engine import FastEngine
from pathsim.motion import plan_program
from pathsim.transforms import exp_rotation, pose
from tests.builders import body, box, cell, joint
from tests.clearance.oracle import dense_distances
from tests.clearance.swept.cases import random_mesh

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])


def swung_through_a_post():
    """Joint 1 turns the nozzle through a post that stands half way."""
    start, end = HOME.copy(), HOME.copy()
    start[0], end[0] = -0.5, 0.5
    c = cell({"home": start, "end": end}, [joint("end")])
    at = c.tips(HOME[None])[0]
    post = body(box((0.02, 0.02, 0.6)), "post", at=at)
    return cell({"home": start, "end": end}, [joint("end")], bodies=[post])


def touching(c, engine):
    trajectory = plan_program(c)
    (move,) = measure_moves(c, trajectory, engine)
    pairs = [p for p in move.pairs if p.clearance.touches and not p.clearance.is_inside]
    assert pairs
    return trajectory.tracks[0], pairs


@pytest.mark.parametrize("kind", [FastEngine, ReferenceEngine])
def test_the_moment_is_that_of_the_first_touch(kind):
    c = swung_through_a_post()
    track, pairs = touching(c, kind(c))
    for pair in pairs:
        span, found = pair.spans[0], pair.clearance
        assert span.start <= found.time <= span.end
        piece = next(p for p in c.arm_pieces if p.name == pair.piece)
        (thing,) = obstacles(c)
        before = track.t[0], found.time - (span.end - span.start) / 16
        assert dense_distances(c, track, piece, thing, before, 200)[1].min() > 0.0
        then = dense_distances(c, track, piece, thing, (found.time, found.time), 1)[1]
        assert then.max() <= 1e-9
        np.testing.assert_allclose(found.on_moving, found.on_standing, atol=1e-6)


def test_both_engines_tell_of_the_same_moment():
    c = swung_through_a_post()
    _, fast = touching(c, FastEngine(c))
    _, slow = touching(c, ReferenceEngine(c))
    for a, b in zip(fast, slow, strict=True):
        assert (a.piece, a.body) == (b.piece, b.body)
        length = a.spans[0].end - a.spans[0].start
        assert a.clearance.time == pytest.approx(b.clearance.time, abs=length / 16)


def test_what_is_known_of_a_contact_stays_where_no_earlier_one_is_seen():
    c = swung_through_a_post()
    track = plan_program(c).tracks[0]
    engine, pair = FastEngine(c), (c.arm_pieces[0], None)
    told = engine.on(track), pair
    inside = Clearance(0.0, 0.0, 0.3, None, None, Inner.MOVING)
    assert at_first_touch(*told, inside, [Span(0.0, 1.0)]) is inside
    first = Clearance(0.0, 0.0, 0.0, np.zeros(3), np.zeros(3))
    assert at_first_touch(*told, first, [Span(0.0, 1.0)]) is first
    assert at_first_touch(*told, first, []) is first


def test_where_meshes_meet_is_on_both_of_them():
    rng = np.random.default_rng(0)
    met = 0
    for _ in range(250):
        first, second = random_mesh(rng), random_mesh(rng)
        T = pose(exp_rotation(rng.normal(size=3)), rng.normal(0, 0.03, 3))
        moving, still = Shape(first), Shape(second)
        moving.place(T)
        distance, on_moving, on_standing = moving.distance(still)
        if distance > 0.0 or not np.array_equal(on_moving, on_standing):
            continue  # apart, or the library names no triangles
        met += 1
        for mesh in (first.moved(T), second):
            triangles = mesh.vertices[mesh.faces]
            nearest = closest_point(triangles, np.tile(on_moving, (len(triangles), 1)))
            assert np.linalg.norm(nearest - on_moving, axis=1).min() < 1e-9
    assert met > 50


def test_triangles_that_cross_meet_on_the_line_of_both_planes():
    first = np.array([[-1.0, 0, -1], [1, 0, -1], [0, 0, 2]])
    second = np.array([[-1.0, -1, 0], [1, -1, 0], [0, 2, 0]])
    place = meeting_place(first, second)
    np.testing.assert_allclose(place[1:], 0.0, atol=1e-12)
    assert abs(place[0]) <= 2 / 3 + 1e-12
    apart = meeting_place(first + [0, 0, 1.5], second)  # the nearest there is
    assert apart[2] == pytest.approx(0.5) or apart[2] == pytest.approx(0.0)

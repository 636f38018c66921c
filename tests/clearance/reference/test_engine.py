"""The reference engine against dense sampling, thin pins and hostile shapes."""

import dataclasses

import numpy as np
import pytest

from pathsim.clearance import ReferenceEngine, Span
from pathsim.clearance.engine import JOINED, SPAN_TRAVEL
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.reference.engine import CAP, TOLERANCE
from pathsim.clearance.swept.engine import FastEngine
from pathsim.model import Mesh, TorchPiece
from pathsim.motion import PATH_ERROR, plan_program
from pathsim.transforms import pose, rotation_about
from tests.builders import ball, body, box, cell, joint, linear, needle, sheet
from tests.clearance.oracle import dense_distances

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])
SLACK = TOLERANCE + PATH_ERROR + 1e-9


def random_body(rng, place):
    kind = rng.integers(5)
    if kind == 0:
        return box(rng.uniform(0.02, 0.3, 3), place)
    if kind == 1:
        return ball(rng.uniform(0.02, 0.2), place, 2)
    if kind == 2:
        return needle(place, place + rng.uniform(-0.3, 0.3, 3))
    if kind == 3:
        return box((0.0005, 0.0005, 0.4), place)  # a hair-thin pin
    u, v = rng.uniform(-0.3, 0.3, (2, 3))
    return sheet([place, place + u, place + u + v, place + v])


def random_case(rng):
    """A joint move of the torch and something near where it passes."""
    q = [HOME + rng.uniform(-1, 1, 6) * [1, 0.4, 0.4, 1, 0.8, 2] for _ in range(2)]
    piece = TorchPiece("nozzle", box(rng.uniform(0.005, 0.1, 3), (0.02, 0, 0.15)))
    c = cell({"home": q[0], "end": q[1]}, [joint("end")], pieces=(piece,))
    on_the_way = c.arm.pose(q[0] + rng.random() * (q[1] - q[0])) @ [0.02, 0, 0.15, 1]
    place = on_the_way[:3] + rng.normal(0, 0.08, 3)
    c = dataclasses.replace(c, bodies=(body(random_body(rng, place)),))
    return c, plan_program(c)


@pytest.mark.parametrize("seed", range(6))
def test_interval_holds_against_dense_sampling(seed):
    rng = np.random.default_rng(seed)
    engine_results = {"touch": 0, "near": 0, "far": 0}
    for _ in range(25):
        c, trajectory = random_case(rng)
        track = trajectory.tracks[0]
        measure = ReferenceEngine(c).on(track)
        window = Span(float(track.t[0]), float(track.t[-1]))
        (thing,) = obstacles(c)
        for piece in c.pieces:
            found = measure.closest(piece, thing, window)
            _, values = dense_distances(c, track, piece, thing, window, 500)
            least = values.min()
            assert found.lower <= least + 1e-9
            if found.touches:
                engine_results["touch"] += 1
                assert found.upper <= 2e-4
            elif found.is_capped:
                engine_results["far"] += 1
                assert least >= CAP - 1e-9
            else:
                engine_results["near"] += 1
                assert found.upper <= least + SLACK
                assert found.upper - found.lower <= SLACK
                assert np.linalg.norm(found.on_standing - found.on_moving) == pytest.approx(
                    found.upper, abs=1e-9
                )
    assert min(engine_results.values()) >= 2  # all three kinds really came up


def pin_cell(height, phase=0.0):
    """The torch swings about joint 1; a thin pin stands where its lowest edge passes."""
    start, end = HOME - [0.5 + phase, 0, 0, 0, 0, 0], HOME + [0.5, 0, 0, 0, 0, 0]
    piece = TorchPiece("nozzle", box((0.004, 0.002, 0.2), (0, 0, 0.1)))
    c = cell({"home": start, "end": end}, [joint("end")], pieces=(piece,))
    T = c.arm.pose(HOME)
    # the piece's far end at the middle of the swing
    tip = (T @ [0, 0, 0.2, 1])[:3]
    pin = box((0.002, 0.002, 0.3), (tip[0], tip[1], tip[2] - 0.15 + height))
    return cell(
        {"home": start, "end": end}, [joint("end")], pieces=(piece,), bodies=[body(pin, "pin")]
    )


def test_a_thin_pin_that_one_degree_sampling_misses():
    """A clip shorter than the step between samples is found by the engine every time."""
    missed = 0
    for phase in np.linspace(0, np.radians(1), 12, endpoint=False):
        c = pin_cell(0.00005, phase)
        track = plan_program(c).tracks[0]
        window = Span(float(track.t[0]), float(track.t[-1]))
        (thing,) = obstacles(c)
        piece = c.pieces[0]
        found = ReferenceEngine(c).on(track).closest(piece, thing, window)
        # one sample each degree of joint 1, as a script would
        angles = np.arange(track.q[0, 0], track.q[-1, 0], np.radians(1))
        order = np.interp(angles, track.q[:, 0], track.t)
        sampled = min(dense_distances(c, track, piece, thing, (t, t), 1)[1][0] for t in order)
        missed += sampled > 0
        assert found.touches
    assert missed >= 3


def test_just_clear_of_the_pin_is_clear():
    c = pin_cell(-0.0008)
    track = plan_program(c).tracks[0]
    window = Span(float(track.t[0]), float(track.t[-1]))
    (thing,) = obstacles(c)
    found = ReferenceEngine(c).on(track).closest(c.pieces[0], thing, window)
    _, values = dense_distances(c, track, c.pieces[0], thing, window, 20001)
    assert not found.touches
    assert 0 < found.lower <= values.min() <= found.upper + 1e-9
    assert found.upper - found.lower <= values.min() / 4 + PATH_ERROR + 1e-9


@pytest.mark.parametrize("threshold", [0.0, 0.01, 0.03])
def test_spans_cover_every_moment_below_the_threshold(threshold):
    rng = np.random.default_rng(17)
    covered = outside = 0
    for _ in range(60):
        c, trajectory = random_case(rng)
        track = trajectory.tracks[0]
        measure = ReferenceEngine(c).on(track)
        window = Span(float(track.t[0]), float(track.t[-1]))
        (thing,) = obstacles(c)
        piece = c.pieces[0]
        spans = measure.intervals_below(piece, thing, window, threshold)
        times, values = dense_distances(c, track, piece, thing, window, 400)
        inside = np.zeros(len(times), dtype=bool)
        for span in spans:
            assert window.start <= span.start <= span.end <= window.end
            inside |= (times >= span.start) & (times <= span.end)
        below = values < threshold if threshold > 0 else values <= 0
        assert inside[below].all()
        assert (values[inside] <= threshold + 1.5e-3).all()  # and not much more than those
        covered += below.sum()
        outside += (~inside).sum()
    assert covered > 20 and outside > 20


def test_a_moment_without_length_is_measured():
    base = cell({"home": HOME}, [joint("home")])
    place = (base.arm.pose(HOME) @ [0, 0, 0.23, 1])[:3]  # 30 mm beyond the piece
    c = dataclasses.replace(base, bodies=(body(box((0.01,) * 3, place)),))
    track = plan_program(c).tracks[0]
    (thing,) = obstacles(c)
    found = ReferenceEngine(c).on(track).closest(c.pieces[0], thing, Span(0.0, 0.0))
    _, values = dense_distances(c, track, c.pieces[0], thing, (0.0, 0.0), 1)
    assert found.upper == pytest.approx(values[0], abs=1e-12)
    # at one moment nothing but the knots' path error is between the two ends
    assert found.upper - found.lower == pytest.approx(PATH_ERROR, abs=1e-12)


def test_the_last_moment_of_a_move_is_measured():
    end = HOME + [0.3, 0, 0, 0, 0, 0]
    tip = cell({"home": HOME}, [joint("home")])
    place = (tip.arm.pose(end) @ [0, 0, 0.2, 1])[:3]
    c = cell({"home": HOME, "end": end}, [joint("end")], bodies=[body(box((0.02,) * 3, place))])
    track = plan_program(c).tracks[0]
    last = float(track.t[-1])
    (thing,) = obstacles(c)
    assert ReferenceEngine(c).on(track).closest(c.pieces[0], thing, Span(last, last)).touches


def test_straight_moves_are_measured_as_joints_really_go():
    """Between knots the arm moves evenly in its joints, not straight; lower still holds."""
    end = HOME + [0.2, 0.1, -0.1, 0.3, 0.2, 0.1]
    c = cell(
        {"home": HOME, "end": end},
        [linear("end")],
        bodies=[body(box((0.1, 0.4, 0.1), (0.95, 0.1, 0.55)))],
    )
    track = plan_program(c).tracks[0]
    window = Span(float(track.t[0]), float(track.t[-1]))
    (thing,) = obstacles(c)
    for piece in c.pieces:
        found = ReferenceEngine(c).on(track).closest(piece, thing, window)
        _, values = dense_distances(c, track, piece, thing, window, 3000)
        assert found.lower <= values.min() + 1e-9


def fence_cell(count, pitch):
    """The torch swings about joint 1 through ``count`` pins, ``pitch`` rad from each other."""
    one = pin_cell(0.004)
    meshes = [
        one.bodies[0].mesh.moved(
            pose(rotation_about([0, 0, 1.0], pitch * (k - count / 2)), [0] * 3)
        )
        for k in range(count)
    ]
    faces = np.concatenate([m.faces + 8 * k for k, m in enumerate(meshes)])
    fence = Mesh(np.concatenate([m.vertices for m in meshes]), faces)
    return dataclasses.replace(one, bodies=(body(fence, "fence"),))


@pytest.mark.parametrize("engine", [ReferenceEngine, FastEngine])
@pytest.mark.parametrize(("pitch", "apart"), [(0.012, True), (0.02, True), (0.006, False)])
def test_gaps_of_four_millimetres_are_told_apart_and_shorter_ones_are_never_air(
    engine, pitch, apart
):
    c = fence_cell(40, pitch)
    track = plan_program(c).tracks[0]
    window = Span(float(track.t[0]), float(track.t[-1]))
    (thing,), piece = obstacles(c), c.pieces[0]
    spans = engine(c).on(track).intervals_below(piece, thing, window, 0.0)
    times, values = dense_distances(c, track, piece, thing, window, 20_001)
    touches = values <= 0
    inside = np.zeros(len(times), dtype=bool)
    for span in spans:
        inside |= (times >= span.start) & (times <= span.end)
    assert inside[touches].all()
    ends = np.flatnonzero(touches[:-1] & ~touches[1:])[:-1]
    starts = np.flatnonzero(~touches[:-1] & touches[1:])[1:]
    radius = np.linalg.norm((c.arm.pose(HOME) @ [0, 0, 0.2, 1])[:2])
    ways = np.interp(times[starts], track.t, track.q[:, 0]) * radius
    ways -= np.interp(times[ends], track.t, track.q[:, 0]) * radius
    assert len(ways) == 39 and (np.abs(ways) > 4e-3).all() == apart
    if apart:
        assert len(spans) == 40


def test_a_long_contact_takes_looks_by_its_length():
    c = pin_cell(0.004)
    wall = box((2.0, 2.0, 0.004), (0, 0, c.bodies[0].mesh.vertices[:, 2].max() - 0.002))
    c = dataclasses.replace(c, bodies=(body(wall, "shelf"),))
    track = plan_program(c).tracks[0]
    engine, (thing,) = ReferenceEngine(c), obstacles(c)
    measure = engine.on(track)
    window = Span(float(track.t[0]), float(track.t[-1]))
    assert measure.intervals_below(c.pieces[0], thing, window, 0.0) == (window,)
    way = measure.chain(c.pieces[0], thing).way(c.pieces[0], *window)
    assert engine.queries < 3 * way / (JOINED * SPAN_TRAVEL)

"""Where an arm goes straight in joint space few knots tell where, and the move's own tell when."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.clearance.engine import PairQuery, Span
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.swept.engine import FastEngine
from pathsim.clearance.swept.window_knots import _STEP, WHOLE, knots_within, within
from pathsim.files import load_cell
from pathsim.geometry.surface import PartSurface
from pathsim.model import MoveKind
from pathsim.motion import plan_program
from pathsim.transforms import apply, inverse

SAMPLES = Path(__file__).parents[3] / "sample_cells"


@pytest.fixture(scope="module")
def cell():
    return load_cell(SAMPLES / "gate_hinge")


@pytest.fixture(scope="module")
def joint_moves(cell):
    found = [one for one in plan_program(cell).tracks if one.move.kind is MoveKind.JOINT]
    assert len(found) >= 2
    return found


def windows(track):
    """The whole move, and parts of it: from one end, to the other, and in between."""
    start, end = float(track.t[0]), float(track.t[-1])
    inner = np.sort(np.random.default_rng(3).uniform(start, end, (5, 2)), axis=1)
    yield from (Span(*each) for each in inner.tolist())
    yield from (Span(start, end), Span(start, (start + end) / 2), Span((start + end) / 2, end))


def test_few_knots_are_on_the_way_of_the_many(joint_moves):
    for track in joint_moves:
        for window in windows(track):
            knots = knots_within(track, within(track, window))
            start = window.start - track.t[0]
            if knots.line is None:
                continue
            times = knots.line.real(knots.t)
            assert times[0] == 0.0 and times[-1] == knots.t[-1] and (np.diff(times) > 0).all()
            there = track.q_at(track.t[0] + start + times)
            # Ends are told to a nanosecond, in which the fastest axis turns a few of them.
            np.testing.assert_allclose(knots.q, there, rtol=0, atol=1e-8)
            assert np.abs(np.diff(knots.q, axis=0)).max() <= _STEP
            between = knots.line.real(np.linspace(0.0, knots.t[-1], 301))
            even = np.linspace(knots.q[0], knots.q[-1], 301)
            np.testing.assert_allclose(
                track.q_at(track.t[0] + start + between), even, rtol=0, atol=1e-8
            )
        whole = knots_within(track, WHOLE)
        assert whole.line is not None and 3 * len(whole.t) < len(track.t)
        assert np.array_equal(whole.q[[0, -1]], track.q[[0, -1]])


def like(track, t, q):
    return replace(track, t=np.asarray(t, float), q=np.asarray(q, float))


def test_only_who_goes_straight_and_forward_gets_few(joint_moves):
    """Whatever leaves the line, turns back on it or stands still keeps all of its knots."""
    track, t = joint_moves[0], np.linspace(0.0, 1.0, 200)
    a, b = track.q[0], track.q[-1]
    ease = t * t * (3 - 2 * t)

    def known(share, off=0.0):
        q = a + share[:, None] * (b - a)
        q[100] += off
        return knots_within(like(track, t, q), WHOLE)

    assert known(ease).line is not None
    assert known(ease, off=1e-9).line is None
    there_and_back = np.where(t < 0.7, 1.4 * ease / ease[139], 1.4 - (t - 0.7) / 0.3 * 0.4)
    assert there_and_back.max() > 1.3 and there_and_back[-1] == pytest.approx(1.0)
    kept = known(there_and_back)
    assert kept.line is None and len(kept.t) == len(t)
    begins_back = np.where(t < 0.2, -t, -0.2 + 1.2 * (t - 0.2) / 0.8)
    assert known(begins_back).line is None
    rests = np.minimum(ease, 0.5) + np.maximum(ease - 0.8, 0.0) * 2.5
    assert known(rests).line is None
    assert knots_within(like(track, t, np.repeat(a[None], 200, axis=0)), WHOLE).line is None


def test_of_a_line_gone_there_and_back_the_far_end_is_measured(cell, joint_moves):
    """Measured between its two ends alone it would read as clear."""
    engine = FastEngine(cell, threads=1)
    for track in joint_moves:
        t = np.linspace(track.t[0], track.t[-1], 200)
        s = (t - t[0]) / (t[-1] - t[0])
        share = 0.3 * s + np.sin(np.pi * s) ** 2 * 0.65
        wave = like(track, t, track.q[0] + share[:, None] * (track.q[-1] - track.q[0]))
        window = Span(float(t[0]), float(t[-1]))
        for standing in obstacles(cell):
            for piece in cell.pieces:
                found = engine.on(wave).closest(piece, standing, window)
                looks = engine.looks(wave, [(piece, standing)])
                seen = looks.nearest(t, np.ones((len(t), 1), dtype=bool)).distance.min()
                assert found.lower <= seen


def test_the_moment_told_is_that_of_the_distance(cell, joint_moves):
    engine = FastEngine(cell, threads=1)
    pairs = [(piece, thing) for thing in obstacles(cell) for piece in cell.pieces]
    told = 0
    for track in joint_moves:
        window = Span(float(track.t[0]), float(track.t[-1]))
        found = engine.min_distance([PairQuery(track, *pair, window) for pair in pairs])
        for pair, one in zip(pairs, found, strict=True):
            if not np.isfinite(one.upper) or one.touches:
                continue
            assert np.linalg.norm(one.on_moving - one.on_standing) == pytest.approx(one.upper)
            # The place told is on the piece as it is then, and nowhere else on its way.
            link = cell.link_poses(track.q_at(one.time))[0, pair[0].link]
            place = apply(inverse(link), one.on_moving[None])
            assert PartSurface.of(pair[0].mesh).nearest(place).distance[0] < 1e-7
            told += track.t[0] < one.time < track.t[-1]
    assert told >= 3

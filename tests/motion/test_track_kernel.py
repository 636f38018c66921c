"""Where a move's tip leaves a place, speeds between knots and joint lines, against plain numpy."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathsim.files import load_cell
from pathsim.kernels.plain import plain
from pathsim.motion import plan_program
from pathsim.motion.line_kernel import lay_line
from pathsim.motion.speed_kernel import fill_speeds
from pathsim.motion.time_scaling import law_of
from pathsim.motion.track_kernel import first_far, put_between
from pathsim.motion.trajectory import joints_at

SAMPLES = Path(__file__).parents[2] / "sample_cells"
seeds = st.integers(0, 10**6)


@pytest.mark.parametrize("way", [lambda kernel: kernel, plain])
def test_joints_between_knots_are_those_of_plain_code_to_the_last_bit(way):
    rng = np.random.default_rng(1)
    for _ in range(100):
        t = np.cumsum(rng.uniform(1e-5, 1.0, int(rng.integers(1, 20)))) - 0.5
        q = rng.normal(size=(len(t), 6))
        for time in (t[0], t[-1], *rng.choice(t, 2), *rng.uniform(t[0] - 1, t[-1] + 1, 4)):
            row = np.empty((1, 6))
            way(put_between)(t, q, float(time), row, 0)
            assert np.array_equal(row, joints_at(np.array([time]), t, q))


@pytest.mark.parametrize("name", ["gate_hinge", "turned_collar", "hanging_rail"])
def test_a_tip_is_far_from_where_all_looks_say(name):
    """A cell without a table, with one that turns, and with a rail; every frame of each."""
    cell, rng, found = load_cell(SAMPLES / name), np.random.default_rng(2), 0
    for track in plan_program(cell).tracks:
        t, q = np.array(track.t), np.array(track.q)
        for frame, linkage in zip(cell.frames, cell.seen_linkages, strict=True):
            tip = linkage.for_tip(cell.torch.T_flange_tcp[:3, 3])
            for _ in range(20):
                origin, start = rng.choice(t), float(rng.choice(t))
                step, count = float(rng.uniform(-0.02, 0.02)), int(rng.integers(1, 200))
                times = start + step * np.arange(count)
                tips = cell.tips_seen_from(frame, track.q_at(np.append(origin, times)))
                away = np.linalg.norm(tips[1:] - tips[0], axis=1)
                radius = float(rng.uniform(0.0, 1.1 * away.max()))
                if np.abs(away - radius).min() < 1e-9:  # rounding decides
                    continue
                far = away > radius
                wanted = int(np.argmax(far)) if far.any() else count
                asked = (*tip, t, q, float(origin), start, step, count, radius)
                assert first_far(*asked) == wanted
                found += far.any() and wanted > 0
    assert found > 10


@given(seeds)
def test_speeds_and_slowed_times_are_those_of_their_definition(seed):
    rng = np.random.default_rng(seed)
    t, speed = np.cumsum(rng.uniform(1e-4, 0.3, 12)), rng.uniform(0.2, 4.0, 7)
    q = np.cumsum(rng.normal(0.0, 0.2, (12, 7)), axis=0)
    ratio, slowed = np.empty((11, 7)), np.empty(12)
    fill_speeds(t, q, speed, ratio, slowed)
    wanted = np.abs(np.diff(q, axis=0)) / np.diff(t)[:, None] / speed
    np.testing.assert_allclose(ratio, wanted, rtol=1e-14)
    longer = np.diff(t) * np.maximum(1.0, wanted.max(axis=1))
    np.testing.assert_allclose(slowed, np.append(0.0, np.cumsum(longer)), rtol=1e-13)
    # At those times no joint is faster than it can.
    assert (np.abs(np.diff(q, axis=0)) / np.diff(slowed)[:, None] <= speed * (1 + 1e-12)).all()


@given(seeds, st.booleans())
def test_knots_of_a_joint_line_are_where_its_law_says(seed, smooth):
    rng = np.random.default_rng(seed)
    speed, acceleration = rng.uniform(0.1, 3.0), rng.uniform(0.2, 20.0)
    law = law_of(1.0, speed, acceleration, rng.uniform(0.5, 100.0) if smooth else np.inf)
    start, end = rng.normal(0.0, 1.0, (2, 6))
    farthest, breaks = float(np.abs(end - start).max()), law.breaks
    bends = rng.uniform(0.1, 30.0, len(breaks) - 1)
    t, q = lay_line(law.phases, breaks, bends, farthest, 0.05, start, end)
    assert t[0] == 0.0 and t[-1] == breaks[-1] and (np.diff(t) > 0).all()
    assert np.array_equal(q[0], start) and np.array_equal(q[-1], end)
    wanted = start + law.position(t)[:, None] * (end - start)
    np.testing.assert_allclose(q, wanted, rtol=0, atol=1e-11)
    assert np.isin(breaks, t).all()  # where the law jumps there is a knot
    for k, bend in enumerate(bends):
        inside = (t >= breaks[k]) & (t <= breaks[k + 1])
        assert np.diff(t[inside]).max() <= (1 + 1e-9) / bend
        turned = float(np.abs(q[inside][-1] - q[inside][0]).max())
        assert turned <= 0.05 * (inside.sum() - 1) * (1 + 1e-9)

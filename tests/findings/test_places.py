"""Joint values for places near taught points: there, near, and the same as the full search's."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pathsim.arm.inverse import closed_form
from pathsim.arm.numeric_inverse import _first_of_each, posture_gap
from pathsim.files import load_cell
from pathsim.findings.places import joints_at, joints_beside, lifted
from pathsim.motion import plan_program
from pathsim.transforms import translation

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.mark.parametrize("name", ["offset_wrist", "gate_hinge", "hanging_rail", "turned_collar"])
def test_a_place_beside_a_point_is_reached_with_the_held_axes_as_they_were(name):
    cell = load_cell(SAMPLES / name)
    rng = np.random.default_rng(5)
    reached = 0
    for q in (track.q[-1] for track in plan_program(cell).tracks):
        for off in rng.uniform(-0.15, 0.15, (4, 3)):
            T = translation(off) @ cell.tool_poses(q[None])[0]
            there = joints_beside(cell, T, [q])
            if there is None:
                continue
            reached += 1
            assert np.allclose(cell.tool_poses(there[None])[0], T, atol=1e-8)
            assert (cell.axes.room(there) >= -1e-9).all()
            held = list(cell.axes.held)
            assert np.array_equal(there[held], q[held])
    assert reached > 10


def test_without_a_closed_form_it_is_the_nearest_that_the_full_search_finds_too():
    cell = load_cell(SAMPLES / "offset_wrist")
    assert closed_form(cell.arm) is None
    rng = np.random.default_rng(11)
    q = cell.points["weld end"].q
    for height in rng.uniform(0.01, 0.25, 6):
        T = translation([0, 0, height]) @ cell.tool_poses(q[None])[0]
        full = joints_at(cell, T, q)
        assert np.allclose(joints_beside(cell, T, [q]), full, atol=1e-7)
        assert np.allclose(lifted(cell, q, np.array([0.0, 0, 1]), height), full, atol=1e-7)


def test_of_several_starts_the_solution_nearest_the_first_is_taken():
    cell = load_cell(SAMPLES / "offset_wrist")
    q, home = cell.points["weld end"].q, cell.points["home"].q
    T = translation([0, 0, 0.05]) @ cell.tool_poses(q[None])[0]
    alone, both = (joints_beside(cell, T, starts) for starts in ([q], [q, home]))
    assert np.allclose(alone, both, atol=1e-8)


@pytest.mark.parametrize("name", ["offset_wrist", "gate_hinge"])
def test_what_is_out_of_reach_is_none(name):
    cell = load_cell(SAMPLES / name)
    q = cell.points["weld end"].q
    far = translation([9.0, 0, 0]) @ cell.tool_poses(q[None])[0]
    assert joints_beside(cell, far, [q]) is None
    assert lifted(cell, q, np.array([0.0, 0, 1]), 9.0) is None


def test_equal_postures_are_dropped_as_one_by_one():
    """Against the plain loop, on rows that are whole turns or next to nothing apart."""
    arm = load_cell(SAMPLES / "offset_wrist").arm
    rng = np.random.default_rng(2)
    rows = rng.uniform(-3, 3, (12, arm.dof))
    turned = rows[rng.integers(12, size=40)] + 2 * np.pi * rng.integers(-1, 2, (40, arm.dof))
    near = rows[rng.integers(12, size=20)] + rng.choice([1e-7, 3e-6], (20, 1))
    found = np.concatenate([rows, turned, near])[rng.permutation(72)]
    kept = []
    for k, candidate in enumerate(found):
        if all(posture_gap(arm, candidate, found[other]) > 1e-6 for other in kept):
            kept.append(k)
    assert _first_of_each(arm, found) == kept
    assert _first_of_each(arm, found[:0]) == []

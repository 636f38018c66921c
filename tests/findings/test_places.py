"""Joint values for places near taught points: there, near, and the same as the full search's."""

from __future__ import annotations

from copy import copy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.arm.inverse import at_nearest_turns, closed_form, nearest_first
from pathsim.arm.numeric_inverse import _first_of_each, posture_gap
from pathsim.files import load_cell
from pathsim.findings.places import joints_at, joints_at_each, joints_beside, lifted
from pathsim.motion import plan_program
from pathsim.transforms import inverse, translation

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


def _with_limits(cell, limits):
    """The cell, its arm with some joints' limits otherwise: {joint: (low, high)} in rad."""
    arm = copy(cell.arm)
    lower, upper = arm.lower.copy(), arm.upper.copy()
    for joint, (low, high) in limits.items():
        lower[joint], upper[joint] = low, high
    object.__setattr__(arm, "lower", lower)
    object.__setattr__(arm, "upper", upper)
    return replace(cell, arm=arm)


@pytest.mark.parametrize(
    ("name", "limits"),
    [
        ("gate_hinge", {}),
        ("hanging_rail", {}),
        ("gate_hinge", {3: (-9.0, 11.0), 5: (-14.0, 14.0)}),
        ("gate_hinge", {0: (-0.4, 0.5), 5: (-np.inf, np.inf), 3: (-np.inf, 1.0)}),
        ("hanging_rail", {4: (-8.0, 8.0), 6: (-np.inf, np.inf)}),
        ("offset_wrist", {}),
    ],
)
def test_many_poses_at_once_are_solved_as_each_by_itself(name, limits):
    """Against all solutions at all turns, put in order by the plain rule."""
    cell = _with_limits(load_cell(SAMPLES / name), limits)
    arm, rng = cell.arm, np.random.default_rng(8)
    taught = np.stack([t.q[-1] for t in plan_program(cell).tracks])
    few = closed_form(arm) is None  # there a search for each
    T, near = [], []
    for q in taught[rng.integers(len(taught), size=4 if few else 60)]:
        off = rng.uniform(-0.6, 0.6, 3) * rng.choice([0.1, 1.0, 6.0])
        T.append(translation(off) @ cell.tool_poses(q[None])[0])
        near.append(q + np.where(cell.axes.prismatic, 0.0, rng.uniform(-4, 4, len(q))))
    held = list(cell.axes.held)
    near = np.stack(near)
    near[:, held] = near[:, held].clip(cell.axes.lower[held], cell.axes.upper[held])
    reached = 0
    for pose, start, q in zip(T, near, joints_at_each(cell, np.stack(T), near), strict=True):
        flange = inverse(cell.T_world_base) @ pose @ inverse(cell.torch.T_flange_tcp)
        value = None if arm.held is None else float(start[arm.held])
        tool, here = cell.torch.T_flange_tcp, start[: arm.dof]
        found = arm.inverse(flange, held=value, T_flange_tcp=tool, near=here)
        if len(found) == 0:
            assert q is None
            continue
        found = nearest_first(arm, at_nearest_turns(arm, found, here), here)
        assert np.allclose(q[: arm.dof], found[0], atol=1e-8)
        assert np.array_equal(q[arm.dof :], start[arm.dof :])
        reached += 1
    assert reached > (1 if few else 15) and (few or reached < len(T))
    assert joints_at_each(cell, np.zeros((0, 4, 4)), near[:0]) == []


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

"""Values to key in lead back to the point that was meant."""

from dataclasses import replace

import numpy as np
import pytest

from pathsim.advice import Change
from pathsim.advice.keyed_in import PoseConvention, angles_of, keyed_in
from pathsim.files import load_cell
from pathsim.transforms import (
    exp_rotation,
    frozen,
    rotation_from_angles,
    rotation_from_quat_wxyz,
    translation,
)
from tests.advice.test_advise import SAMPLES

ORDERS = ("fixed x-y-z", "intrinsic z-y-x", "z-y-z", "quaternion w-x-y-z")


@pytest.mark.parametrize("order", ORDERS)
def test_angles_lead_back_to_the_rotation(order):
    rng = np.random.default_rng(5)
    turns = [exp_rotation(rng.normal(0, 1.5, 3)) for _ in range(40)]
    # Where two of the angles turn about one axis.
    turns += [rotation_from_angles("fixed x-y-z", [0.3, s * np.pi / 2, 0.2]) for s in (1, -1)]
    turns += [rotation_from_angles("z-y-z", [0.3, b, 0.2]) for b in (0.0, np.pi)]
    for R in turns:
        told = angles_of(order, R)
        back = (
            rotation_from_quat_wxyz(told) if len(told) == 4 else rotation_from_angles(order, told)
        )
        assert np.allclose(back, R, atol=1e-6)


@pytest.mark.parametrize("name", ["gate_hinge", "offset_wrist"])
def test_joints_are_those_that_the_points_file_would_have(name):
    """What is shown on the display, whatever its counting, and not the model's own."""
    cell = load_cell(SAMPLES / name)
    point = next(iter(cell.points.values()))
    change = Change(cell, {"new": point.q})
    (one,) = keyed_in(cell, change.points)
    assert np.allclose(cell.arm.readings.model(one.shown[: cell.arm.dof]), point.q[: cell.arm.dof])
    assert f"j1 {np.degrees(one.shown[0]):.1f}" in one.words[0]
    (world,) = keyed_in(cell, change.points, PoseConvention(frame="world"))
    T = cell.tool_poses(point.q[None])[0]
    assert np.allclose(world.place, T[:3, 3])
    assert np.allclose(rotation_from_angles("fixed x-y-z", world.turn), T[:3, :3], atol=1e-9)
    back = cell.T_world_base @ cell.arm.readings.T_base_shown @ np.append(one.place, 1.0)
    assert np.allclose(back[:3], world.place)
    assert "from the arm's base" in one.words[1] and "from the world" in world.words[1]


def test_a_pose_is_told_from_the_base_that_the_display_has():
    cell = load_cell(SAMPLES / "gate_hinge")
    q = next(iter(cell.points.values())).q
    off = np.array([0.1, -0.2, 0.3])
    readings = replace(cell.arm.readings, T_base_shown=frozen(translation(off)))
    other = replace(cell, arm=replace(cell.arm, readings=readings))
    ((plain,), (shifted,)) = (keyed_in(c, {"new": q}) for c in (cell, other))
    assert np.allclose(plain.place - shifted.place, off)

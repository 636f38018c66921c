"""What is said of new points: a torch tilted far, a joint near its limit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pathsim.advice.change import Change
from pathsim.advice.new_points import about_new_points
from pathsim.files import load_cell
from pathsim.findings.places import joints_at
from pathsim.model import Move, MoveKind
from pathsim.transforms import rotation_about
from tests.advice.test_advise import SAMPLES


def with_tilt(cell, angle):
    """A new point on the way home, where the torch stands as at the retract point but tilted."""
    q = cell.points["retract"].q
    T = cell.tool_poses(q[None])[0].copy()
    T[:3, :3] = T[:3, :3] @ rotation_about(np.array([1.0, 0, 0]), np.radians(angle))
    there = joints_at(cell, T, q)
    assert there is not None
    speed = cell.program.moves[-1].speed
    move = Move(MoveKind.JOINT, "new", speed)
    return Change(cell, {"new": there}, ((len(cell.program.moves) - 1, move),))


@pytest.fixture(scope="module")
def cell():
    """The program's home has the torch as at the retract point: what is beside is one angle."""
    cell = load_cell(SAMPLES / "gate_hinge")
    points = {**cell.points, "home": replace(cell.points["home"], q=cell.points["retract"].q)}
    return replace(cell, points=points)


@pytest.mark.parametrize(("angle", "is_said"), [(0, False), (28, False), (32, True), (-45, True)])
def test_a_torch_tilted_over_30_deg_is_said(cell, angle, is_said):
    said = [s for s in about_new_points(cell, with_tilt(cell, angle)) if "tilted" in s]
    assert len(said) == is_said
    if is_said:
        assert said[0].startswith(f"At 'new' the torch is tilted {abs(angle)} deg from its angle")


def test_a_turn_about_the_wire_is_no_tilt(cell):
    q = cell.points["retract"].q.copy()
    q[5] += np.radians(60)
    change = replace(with_tilt(cell, 0), points={"new": q})
    tool = cell.tool_poses(np.stack([q, cell.points["retract"].q]))[:, :3, 2]
    if np.arccos(np.clip(tool[0] @ tool[1], -1, 1)) < np.radians(30):
        assert not [s for s in about_new_points(cell, change) if "tilted" in s]


@pytest.mark.parametrize(("left", "is_said"), [(12.0, False), (8.0, True), (2.0, True)])
def test_a_joint_near_its_limit_is_said(cell, left, is_said):
    q = cell.points["retract"].q.copy()
    q[0] = cell.axes.upper[0] - np.radians(left)
    change = replace(with_tilt(cell, 0), points={"new": q})
    said = [s for s in about_new_points(cell, change) if "limit" in s]
    assert len(said) == is_said
    if is_said:
        name = cell.axes.names[0]
        assert said[0] == f"At 'new' {name} is {left:.1f} deg from its limit."


def test_what_is_tilted_from_the_welds_is_said_wherever_home_is(cell):
    """Torch as at home is tilted too, where home is; against an oracle, at many postures."""
    T = cell.tool_poses(cell.points["home"].q[None])[0].copy()
    T[:3, :3] = T[:3, :3] @ rotation_about(np.array([0, 1.0, 0]), np.radians(40.0))
    home = joints_at(cell, T, cell.points["home"].q)
    tilted = replace(cell, points={**cell.points, "home": replace(cell.points["home"], q=home)})
    ends = [n for m in cell.program.moves if m.arc_on for n in (m.target, "weld start")]
    wires = cell.tool_poses(np.stack([cell.points[n].q for n in ends]))[:, :3, 2]
    rng, told = np.random.default_rng(5), []
    for k in range(60):
        q = home if k == 0 else cell.points["retract"].q + rng.uniform(-0.4, 0.4, 6)
        change = replace(with_tilt(tilted, 0), points={"new": q})
        wire = tilted.tool_poses(q[None])[0, :3, 2]
        # Between a weld and home: of the two welds the one before it counts.
        angle = np.degrees(np.arccos(np.clip(wires[0] @ wire, -1, 1)))
        said = [s for s in about_new_points(tilted, change) if "tilted" in s]
        assert bool(said) == (angle > 30.0), (k, angle, said)
        assert not said or f"tilted {angle:.0f} deg from its angle at '{ends[0]}'" in said[0]
        told.append(bool(said))
    assert told[0] and 5 < sum(told) < 55

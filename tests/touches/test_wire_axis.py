"""The wire's axis from two lengths of wire, and a tip against the torch's mesh."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pathsim.touches import fit_tip, from_mesh, touch_noise, wire_axis
from pathsim.transforms import pose
from tests.builders import ball, box

TCP = pose(Rotation.from_euler("y", 40.0, degrees=True).as_matrix(), [0.1, 0.0, 0.3])
TILTS = [(0, 0, 0), (30, 0, 20), (-30, 10, 0), (0, 30, -40), (10, -30, 60), (-20, -20, 90)]


def tips(lengths, T=TCP, noise=0.0, seed=1):
    """Fits of the tip at wires longer by ``lengths``, each from six postures."""
    rng = np.random.default_rng(seed)
    found = []
    for longer in lengths:
        tip = T[:3, 3] + longer * T[:3, 2]
        poses = []
        for tilt in TILTS:
            R = Rotation.from_euler("xyz", tilt, degrees=True).as_matrix()
            spot = np.array([0.9, 0.1, 0.7]) + rng.normal(0, noise, 3)
            poses.append(pose(R, spot - R @ tip))
        found.append(fit_tip(poses, max(noise, touch_noise(1e-4))))
    return found


def test_the_axis_is_that_of_the_described_wire():
    axis = wire_axis(tips([0.0, 0.02]), TCP)
    assert axis.direction == pytest.approx(TCP[:3, 2], abs=1e-9)
    assert axis.turn == pytest.approx(0, abs=1e-7) and axis.side == pytest.approx(0, abs=1e-9)
    again = wire_axis(tips([0.02, 0.0]), TCP)  # in whichever order
    assert again.direction == pytest.approx(axis.direction, abs=1e-9)


def test_a_bent_neck_is_seen_by_its_angle():
    bent = TCP @ pose(Rotation.from_euler("x", 2.0, degrees=True).as_matrix(), [0, 0, 0])
    axis = wire_axis(tips([0.0, 0.03], bent), TCP)
    assert np.degrees(axis.turn) == pytest.approx(2.0, abs=1e-6)
    assert axis.side == pytest.approx(0.03 * np.sin(np.radians(2.0)), abs=1e-9)


def test_tips_in_one_place_tell_no_axis():
    assert wire_axis(tips([0.0]), TCP) is None
    assert wire_axis(tips([0.0, 0.004]), TCP) is None


def test_what_is_said_of_the_axis_covers_the_error():
    turns = [wire_axis(tips([0.0, 0.03], noise=2e-4, seed=k), TCP) for k in range(200)]
    inside = sum(axis.turn <= axis.off for axis in turns)
    assert inside >= 190
    assert np.median([axis.turn / axis.off for axis in turns]) > 0.15  # and is no mere fright


def test_how_far_a_place_is_from_meshes_and_whether_in_one():
    meshes = [ball(0.02, fineness=4), box((0.01, 0.01, 0.01), (0.1, 0, 0))]
    assert from_mesh([0, 0, 0.05], meshes) == pytest.approx(0.03, abs=1e-4)
    assert from_mesh([0.1, 0.02, 0], meshes) == pytest.approx(0.015, abs=1e-9)
    assert from_mesh([0.1, 0.001, 0], meshes) == pytest.approx(-0.004, abs=1e-9)

"""The kernel of the closed-form inverse, compiled and plain, against another way to it."""

import numpy as np
import pytest

from pathsim.arm import Arm, Dimensions
from pathsim.arm.inverse import closed_form
from pathsim.arm.wrist_inverse import by_columns, by_kernel, wrist_geometry
from pathsim.transforms import rotation_about
from tests.arm.wrist_oracle import plain_solutions
from tests.builders import shop_arm

DRAWN = Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.1)
LEVEL = Dimensions(0.43, 0.0, 0.5, 0.0, 0.5, 0.1)


def gap(a, b):
    return np.abs(np.exp(1j * a) - np.exp(1j * b))


def skewed(arm, angle):
    """The same build with axis 5 leaning: no longer square to axes 4 and 6."""
    fixed, ends = np.array(arm.fixed), np.array(arm.ends)
    fixed[4, :3, :3] = fixed[4, :3, :3] @ rotation_about([0.6, 0.8, 0.0], angle)
    return wrist_geometry(fixed, ends)


BOTH = pytest.mark.parametrize("solve", [by_kernel, by_columns], ids=["compiled", "plain"])


@BOTH
@pytest.mark.parametrize("lean", [0.0, 0.15])
def test_it_finds_what_the_other_way_does(lean, solve):
    arm = shop_arm()
    geometry = closed_form(arm).geometry if lean == 0.0 else skewed(arm, lean)
    assert geometry is not None and geometry.is_square == (lean == 0.0)
    rng = np.random.default_rng(7)
    T = arm.pose(rng.uniform(-3.0, 3.0, (3000, 6)))
    T[::5, :3, 3] *= 1.7  # some out of reach, at the shoulder, the elbow or not at all
    for branches in (range(8), (5,), (2, 7)):
        q, exists = solve(geometry, T, branches)
        expected, should = plain_solutions(geometry, T, branches)
        np.testing.assert_array_equal(exists, should)
        assert 0.2 < exists.mean() < 0.99
        # Near alignment joints 4 and 6 share one turn: rounding goes as one by its sine.
        sine = np.abs(np.sin(expected[..., 4])) if lean == 0.0 else np.ones(exists.shape)
        worst = gap(q, expected).max(axis=-1) * np.maximum(sine, 1e-6)
        assert worst[exists].max() < 1e-9
        assert (np.abs(q) <= np.pi + 1e-12).all()


@BOTH
def test_an_aligned_wrist_leaves_joint_4_at_zero_in_both(solve):
    arm = shop_arm()
    geometry = closed_form(arm).geometry
    q = np.array([[0.3, 0.4, -0.2, 0.7, 0.0, 0.5], [0.3, 0.4, -0.2, -1.0, 0.0, 0.1]])
    found, exists = solve(geometry, arm.pose(q), range(8))
    expected, _ = plain_solutions(geometry, arm.pose(q), range(8))
    assert exists.any(axis=1).all()
    aligned = exists & (np.abs(np.sin(expected[..., 4])) < 1e-9)
    assert aligned.any() and (found[aligned][:, 3] == 0).all()
    np.testing.assert_allclose(found[aligned], expected[aligned], atol=1e-7)


@BOTH
def test_poses_that_may_not_be_written_to_and_none_at_all(solve):
    arm = shop_arm()
    geometry = closed_form(arm).geometry
    T = arm.pose(np.full((1, 6), 0.3))
    T.setflags(write=False)
    strided = np.repeat(T, 4, axis=0)[::2]
    assert solve(geometry, T, (0,))[0].shape == (1, 1, 6)
    one, two = solve(geometry, T, range(8))[0], solve(geometry, strided, range(8))[0]
    np.testing.assert_array_equal(one[0], two[1])
    assert solve(geometry, T[:0], range(8))[0].shape == (0, 8, 6)


@BOTH
@pytest.mark.parametrize(
    "make", [shop_arm, lambda: Arm.from_dimensions(DRAWN), lambda: Arm.from_dimensions(LEVEL)]
)
@pytest.mark.parametrize(
    "dust",
    [[0.0, -0.0, 1e-17, -1e-17, 1e-33], [0.0, -0.0, 1e-100, -1e-156, -1e-158, 1e-170, -1e-300]],
)
def test_what_is_told_to_be_a_solution_is_one_over_axis_1_too(solve, make, dust):
    """Where numbers are neat a turn has no direction to go by, but for dust and signs of zero.

    Of such a turn any angle will do; what is solved behind it has to be solved for that angle.
    """
    arm, rng = make(), np.random.default_rng(5)
    geometry = closed_form(arm).geometry
    count = 800
    turns = [np.eye(3), np.eye(3)[:, [1, 2, 0]], np.diag([1.0, -1, -1]), np.diag([-1.0, -1, 1])]
    centre = rng.choice(dust, (count, 3))
    centre[:, 2] = rng.uniform(0.1, 1.4, count)
    centre[::5] = geometry.for_kernel[1][0] + centre[::5] * [1.0, 1.0, 0.0]  # at the shoulder
    T = np.tile(np.eye(4), (count, 1, 1))
    T[:, :3, :3] = np.array(turns)[np.arange(count) % 4]
    T[:, :3, 3] = centre - T[:, :3, :3] @ geometry.for_kernel[1][4]
    q, exists = solve(geometry, T, range(8))
    off = np.abs(arm.pose(q.reshape(-1, 6)).reshape(count, 8, 4, 4) - T[:, None]).max(axis=(2, 3))
    assert exists.sum() > count and off[exists].max() < 1e-9

"""The kernel of the forward kinematics, compiled and plain, against products of whole matrices."""

import numpy as np
import pytest

from pathsim.arm.forward import by_columns, by_kernel, last_by_kernel
from pathsim.transforms import pose, rotation_about


def chain(rng, slides):
    """A chain of any frames; some of its turns are exactly none."""
    axes, angles = rng.normal(size=(len(slides), 3)), rng.uniform(-np.pi, np.pi, len(slides))
    turns = [rotation_about(a / np.linalg.norm(a), x) for a, x in zip(axes, angles, strict=True)]
    turns[-1] = np.eye(3)
    return pose(np.array(turns), rng.normal(size=(len(slides), 3)))


def by_products(fixed, q, prismatic):
    """The same frames by products of 4x4 matrices: of each joint its fixed part and its motion."""
    frames, T = np.empty((*q.shape, 4, 4)), np.broadcast_to(np.eye(4), (len(q), 4, 4))
    for i, (before, slides) in enumerate(zip(fixed, prismatic, strict=True)):
        moved = np.tile(np.eye(4), (len(q), 1, 1))
        if slides:
            moved[:, 2, 3] = q[:, i]
        else:
            moved[:, :3, :3] = rotation_about([0.0, 0.0, 1.0], q[:, i])
        frames[:, i] = T = T @ before @ moved
    return frames


@pytest.mark.parametrize("slides", [[False] * 6, [True, False, False], [False, True, True, False]])
def test_compiled_and_plain_find_what_products_of_matrices_do(slides):
    rng = np.random.default_rng(5)
    fixed, prismatic = chain(rng, slides), np.array(slides)
    for count in (0, 1, 5000):
        q = rng.uniform(-7.0, 7.0, (count, len(slides)))
        found, expected = by_kernel(fixed, q, prismatic), by_products(fixed, q, prismatic)
        assert found.shape == expected.shape == (count, len(slides), 4, 4)
        np.testing.assert_allclose(found, expected, atol=1e-12)
        np.testing.assert_allclose(by_columns(fixed, q, prismatic), found, atol=1e-13)
        np.testing.assert_array_equal(last_by_kernel(fixed, q, prismatic), found[:, -1])


def test_arrays_that_may_not_be_written_to_and_strided_ones():
    rng = np.random.default_rng(6)
    fixed, prismatic = chain(rng, [False, False]), np.zeros(2, dtype=bool)
    q = rng.uniform(-3.0, 3.0, (8, 4))
    for array in (fixed, prismatic, q):
        array.setflags(write=False)
    found = by_kernel(fixed, q[::2, 1:3], prismatic)
    np.testing.assert_allclose(found, by_products(fixed, q[::2, 1:3], prismatic), atol=1e-12)
    np.testing.assert_allclose(found, by_columns(fixed, q[::2, 1:3], prismatic), atol=1e-13)
    last = last_by_kernel(fixed, q[::2, 1:3], prismatic)
    np.testing.assert_array_equal(last, found[:, -1])

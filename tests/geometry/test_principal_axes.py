"""Eigenvectors of small symmetric matrices, against an independent library."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.geometry.principal_axes import principal_axes

entries = arrays(float, (3, 3), elements=st.floats(-1e3, 1e3, allow_subnormal=False))


@settings(deadline=None)  # the first call may compile
@given(entries, st.sampled_from([1.0, 1e-12, 1e9]))
def test_any_symmetric_matrix(half, scale):
    matrix = (half + half.T) * scale
    rest, axes = matrix.copy(), np.empty((3, 3))
    principal_axes(rest, axes)
    size = max(np.abs(matrix).max(), 1e-300)
    np.testing.assert_allclose(axes.T @ axes, np.eye(3), atol=1e-14)
    np.testing.assert_allclose(np.sort(np.diag(rest)) / size,
                               np.linalg.eigvalsh(matrix) / size, atol=1e-13)  # fmt: skip
    np.testing.assert_allclose(axes @ np.diag(np.diag(rest)) @ axes.T / size, matrix / size,
                               atol=1e-13)  # fmt: skip


def test_what_has_no_direction_keeps_the_frames():
    axes = np.empty((3, 3))
    principal_axes(np.eye(3) * 2.0, axes)
    np.testing.assert_array_equal(axes, np.eye(3))

"""Chains: which axes of a cell their joints are."""

import numpy as np
import pytest

from pathsim.model.linkage import Linkage


@pytest.mark.parametrize(
    ("columns", "signs"),
    [
        ((0, 1, 2), (1.0, 1.0, 1.0)),
        ((2, 3), (1.0, -1.0)),
        ((4, 0, 1, 2, 3), (-1.0, 1.0, 1.0, 1.0, 1.0)),
        ((4,), (1.0,)),
        ((1, 0), (1.0, 1.0)),
        ((0, 2), (1.0, 1.0)),
        ((), ()),
    ],
)
def test_joints_are_the_named_axes_times_their_signs(columns, signs):
    k = len(columns)
    q = np.random.default_rng(1).normal(size=(7, 5))
    q.setflags(write=False)
    poses = np.tile(np.eye(4), (k, 1, 1))
    linkage = Linkage(poses, poses, np.zeros(k, bool), columns, np.array(signs), 0)
    joints = linkage.joints(q)
    assert joints.shape == (7, k) and joints.flags.writeable
    for j, (column, sign) in enumerate(zip(columns, signs, strict=True)):
        assert np.array_equal(joints[:, j], sign * q[:, column])

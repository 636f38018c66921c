"""Chains: which axes of a cell their joints are."""

from pathlib import Path

import numpy as np
import pytest

from pathsim.files import load_cell
from pathsim.model.linkage import Linkage
from pathsim.motion import plan_program


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


@pytest.mark.parametrize("name", ["gate_hinge", "turned_collar", "hanging_rail"])
def test_one_link_alone_is_where_it_is_among_all(name):
    cell = load_cell(Path(__file__).parents[2] / "sample_cells" / name)
    q = np.concatenate([track.q for track in plan_program(cell).tracks])[::17]
    for linkage in (cell.world_linkage, *([cell.relative_linkage] if cell.table else [])):
        every = linkage.link_poses(q)
        for k in range(every.shape[1]):
            alone = linkage.poses_of(k + 1 + linkage.skip, q)
            np.testing.assert_allclose(alone, every[:, k], rtol=0, atol=1e-12)
            assert linkage.poses_of(k + 1 + linkage.skip, q[:0]).shape == (0, 4, 4)

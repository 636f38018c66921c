"""A posture to start from, and postures near it, for tests."""

import numpy as np

from pathsim.transforms import inverse, translation

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])


def at(c, offset, near=HOME):
    goal = translation(offset) @ c.arm.pose(near) @ c.torch.T_flange_tcp
    found = c.arm.inverse(goal @ inverse(c.torch.T_flange_tcp))
    return found[np.argmin(np.abs(found - near).max(axis=1))]

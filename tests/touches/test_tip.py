"""The tool centre point from one spot in several postures."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pathsim.errors import CannotCheck
from pathsim.touches import fit_tip
from pathsim.transforms import pose

TIP, SPOT = np.array([0.1, -0.02, 0.35]), np.array([0.9, 0.1, 0.7])


def postures(rng, count, noise=0.0, turns=None):
    poses = []
    for k in range(count):
        R = Rotation.from_rotvec(rng.uniform(-0.7, 0.7, 3) if turns is None else turns[k])
        tip = SPOT + rng.normal(0, noise, 3)
        poses.append(pose(R.as_matrix(), tip - R.as_matrix() @ TIP))
    return np.array(poses)


def test_it_is_exact_without_noise():
    found = fit_tip(postures(np.random.default_rng(1), 4), 0.1e-3)
    assert found.tip == pytest.approx(TIP, abs=1e-12)
    assert found.spot == pytest.approx(SPOT, abs=1e-12)
    assert found.residuals.max() < 1e-12


def test_of_a_thousand_what_is_stated_covers_95_in_100():
    rng = np.random.default_rng(21)
    good = 0
    for _ in range(1000):
        found = fit_tip(postures(rng, 6, 0.3e-3), 0.3e-3)
        good += np.linalg.norm(found.tip - TIP) <= found.off
    assert good >= 950


@pytest.mark.parametrize("turns", [np.zeros((5, 3)), np.outer(np.linspace(0, 1, 5), [0, 0, 1])])
def test_postures_that_are_alike_are_refused(turns):
    with pytest.raises(CannotCheck, match="too much alike"):
        fit_tip(postures(np.random.default_rng(2), 5, turns=turns), 0.3e-3)


def test_three_are_too_few():
    with pytest.raises(CannotCheck, match="four or more"):
        fit_tip(postures(np.random.default_rng(3), 3), 0.3e-3)

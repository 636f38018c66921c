"""An arm that folds onto itself, for tests."""

import numpy as np

from pathsim.model import TorchPiece
from tests.builders import box, cell, joint

LINKS = (None, box((0.1, 0.1, 0.1)), box((0.5, 0.08, 0.08), (-0.25, 0, 0)), None,
         box((0.08, 0.08, 0.3), (0, 0, -0.15)), None, None)  # fmt: skip


TORCH = (TorchPiece("neck", box((0.03, 0.03, 0.3), (0, 0, 0.15))),)


def folding(q_end, arm=None, links=LINKS):
    start = np.array([0.3, 0.1, 0.2, 0.3, 0.9, 0.4])
    rail = [] if arm is None else [0.2]
    points = {"home": [*rail, *start], "end": [*rail, *q_end]}
    return cell(points, [joint("end")], arm=arm, links=links, pieces=TORCH)

"""The broad phase: pairs whose boxes are farther apart than all that is asked need no search.

The AABB that a piece sweeps (``link_pose.py``) against that of an obstacle, both in the
chain's frame: the gaps along its axes, together, are a bound from below on any distance.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pathsim.clearance.swept.batch import Batch, Chains
from pathsim.clearance.swept.jobs import PackedObstacle
from pathsim.transforms import Array, BoolArray


def beyond_caps(batch: Batch, chains: Chains, things: Sequence[PackedObstacle]) -> BoolArray:
    """Tell of each question whether its pair is surely beyond its cap all along, ``(n,)``.

    ``things``: the batch's ``standings``.
    """
    pairs, sorts = batch.pairs, batch.sorted
    boxes = np.array([thing.box for thing in things])[batch.standing]
    caps = np.array([thing.asked.cap for thing in things])[batch.standing]
    # All that pieces sweep, stretch behind stretch; of each pair the place of its piece in one.
    each = [part.course.reach for part in batch.parts]
    first = np.cumsum([0, *map(len, each)])[:-1]
    places = [chains.places(chain) for chain in sorts.each_chain]
    place = np.array([
        places[k][piece] for k, (piece, _) in zip(sorts.chain.tolist(), pairs, strict=True)
    ])  # fmt: skip
    reach = np.concatenate(each)[first[batch.part] + place[batch.pair]]
    return np.asarray(box_gaps(reach, boxes[batch.pair]) >= caps[batch.pair])


def box_gaps(first: Array, second: Array) -> Array:
    """Distance ``(...)`` of boxes ``(..., 6)``, low and high corner, on the same axes."""
    squares: Array | float = 0.0
    for k in range(3):  # three long rows, not many rows of three
        apart = np.maximum(first[..., k] - second[..., k + 3], second[..., k] - first[..., k + 3])
        apart = np.maximum(apart, 0.0)
        squares = squares + apart * apart
    return np.asarray(np.sqrt(squares))

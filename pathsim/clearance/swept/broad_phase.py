"""The broad phase: pairs whose boxes are farther apart than all that is asked need no search.

The AABB that a piece sweeps (``link_pose.py``) against that of an obstacle, both in the
chain's frame: the gaps along its axes, together, are a bound from below on any distance.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pathsim.clearance.swept.batch import Batch, Chains
from pathsim.clearance.swept.jobs import PackedObstacle
from pathsim.each_once import each_once
from pathsim.transforms import Array, BoolArray


def beyond_caps(batch: Batch, chains: Chains, things: Sequence[PackedObstacle]) -> BoolArray:
    """Tell of each question whether its pair is surely beyond its cap all along, ``(n,)``.

    ``things``: the batch's ``standings``.
    """
    beyond = np.zeros((len(batch.parts), len(batch.pairs)), dtype=bool)
    boxes = np.array([thing.box for thing in things])[batch.standing]
    caps = np.array([thing.asked.cap for thing in things])[batch.standing]
    for chain in each_once(batch.chain).tolist():
        pairs, parts = batch.sorted.of_chains[chain], np.flatnonzero(batch.chain == chain)
        places = chains.places(batch.sorted.each_chain[chain])
        column = [places[batch.pairs[pair][0]] for pair in pairs.tolist()]
        reach = np.array([batch.parts[part].course.reach for part in parts.tolist()])
        gaps = box_gaps(reach[:, column], boxes[pairs])
        beyond[np.ix_(parts, pairs)] = gaps >= caps[pairs]
    return np.asarray(beyond[batch.part, batch.pair])


def box_gaps(first: Array, second: Array) -> Array:
    """Distance ``(...)`` of boxes ``(..., 6)``, low and high corner, on the same axes."""
    apart = np.maximum(first[..., :3] - second[..., 3:], second[..., :3] - first[..., 3:])
    return np.asarray(np.linalg.norm(np.maximum(apart, 0.0), axis=-1))

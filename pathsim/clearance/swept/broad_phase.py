"""The broad phase: pairs whose boxes are farther apart than all that is asked need no search.

The AABB that a piece sweeps (``link_pose.py``) against that of an obstacle, both in the
chain's frame: the gaps along its axes, together, are a bound from below on any distance.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pathsim.clearance.engine import numbered
from pathsim.clearance.swept.batch import Batch, Chains
from pathsim.clearance.swept.jobs import PackedObstacle
from pathsim.geometry.mesh import ROUNDING
from pathsim.transforms import Array, BoolArray


def beyond_caps(batch: Batch, chains: Chains, things: Sequence[PackedObstacle]) -> BoolArray:
    """Tell of each question whether its pair is surely beyond its cap all along, ``(n,)``.

    ``things``: the batch's ``standings``.
    """
    beyond = np.zeros((len(batch.parts), len(batch.pairs)), dtype=bool)
    boxes = boxes_of(things)[batch.standing]
    caps = np.array([thing.asked.cap for thing in things])[batch.standing]
    number, names = numbered([part.chain for part in batch.parts] + batch.chains)
    of_parts, of_pairs = number[: len(batch.parts)], number[len(batch.parts) :]
    for chain in np.unique(of_parts).tolist():
        pairs, parts = np.flatnonzero(of_pairs == chain), np.flatnonzero(of_parts == chain)
        places = chains.places(names[chain])
        column = [places[batch.pairs[pair][0]] for pair in pairs.tolist()]
        reach = np.array([batch.parts[part].course.reach for part in parts.tolist()])
        gaps = box_gaps(reach[:, column], boxes[pairs])
        beyond[np.ix_(parts, pairs)] = gaps >= caps[pairs]
    return np.asarray(beyond[batch.part, batch.pair])


def boxes_of(things: Sequence[PackedObstacle]) -> Array:
    """Boxes ``(n, 6)`` in the chain's frame that hold things: low corner, high corner."""
    T = np.array([thing.standing.T_ref_mesh for thing in things])
    corners = np.array([thing.standing.source.corners for thing in things])
    placed = corners @ np.swapaxes(T[:, :3, :3], 1, 2) + T[:, None, :3, 3]
    low, high = placed.min(axis=1) - ROUNDING, placed.max(axis=1) + ROUNDING
    return np.concatenate([low, high], axis=1)


def box_gaps(first: Array, second: Array) -> Array:
    """Distance ``(...)`` of boxes ``(..., 6)``, low and high corner, on the same axes."""
    apart = np.maximum(first[..., :3] - second[..., 3:], second[..., :3] - first[..., 3:])
    return np.asarray(np.linalg.norm(np.maximum(apart, 0.0), axis=-1))

"""Which questions are answered at once: where boxes round all of the way are beyond the cap.

Most pairs are: of eight moves in a cell nine pairs in ten. Box against box on the axes of the
chain's frame: the gaps along them, together, are a bound from below on any distance in between.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pathsim.clearance.fast.batch import Batch
from pathsim.clearance.fast.chains import Chains
from pathsim.clearance.fast.entry import ROUNDING
from pathsim.clearance.fast.thing import Thing
from pathsim.clearance.questions import numbered
from pathsim.transforms import Array, Flags


def beyond_caps(batch: Batch, chains: Chains, things: Sequence[Thing]) -> Flags:
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


def boxes_of(things: Sequence[Thing]) -> Array:
    """Boxes ``(n, 6)`` in the chain's frame that hold things: low corner, high corner."""
    T = np.array([thing.standing.T_world_source for thing in things])
    corners = np.array([thing.standing.source.corners for thing in things])
    placed = corners @ np.swapaxes(T[:, :3, :3], 1, 2) + T[:, None, :3, 3]
    low, high = placed.min(axis=1) - ROUNDING, placed.max(axis=1) + ROUNDING
    return np.concatenate([low, high], axis=1)


def box_gaps(first: Array, second: Array) -> Array:
    """Distance ``(...)`` of boxes ``(..., 6)``, low and high corner, on the same axes."""
    apart = np.maximum(first[..., :3] - second[..., 3:], second[..., :3] - first[..., 3:])
    return np.asarray(np.linalg.norm(np.maximum(apart, 0.0), axis=-1))

"""Some of the ways in which an arm may round a corner."""

import numpy as np


def members(corner, rng, count):
    """Joint values of ways to round: mixtures of a posture of each move in the zone."""
    found = [corner.before[0], corner.behind[-1], (corner.before[0] + corner.behind[-1]) / 2]
    for _ in range(count):
        ends = []
        for knots in (corner.before, corner.behind):
            place = rng.random() * (len(knots) - 1)
            k = min(int(place), len(knots) - 2)
            ends.append(knots[k] + (place - k) * (knots[k + 1] - knots[k]))
        u = rng.random()
        found.append((1 - u) * ends[0] + u * ends[1])
    return np.array(found)

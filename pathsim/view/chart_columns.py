"""The least clearance of each pixel column of the chart: nothing hides, however long it is."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance import Span
from pathsim.scene.palette import CONTACT, bands_of
from pathsim.scene.records import Scene
from pathsim.transforms import Array
from pathsim.view.time_axis import TimeAxis

#: Least width of a contact, px.
CONTACT_WIDTH = 6.0


@dataclass(frozen=True, eq=False)
class Columns:
    """One entry a column of a pixel, from the chart's left: ``x (n,)`` px of its left edge.

    ``guaranteed (n,)`` m, ``margin (n,)`` m and ``band (n,)`` of the stretch with the least to
    spare that is drawn there; nan and -1 where nothing is known.
    """

    x: Array
    guaranteed: Array
    margin: Array
    band: NDArray[np.int64]

    def runs(self) -> list[tuple[int, int]]:
        """First and last column (one past) of neighbours that are drawn alike."""
        same = (
            (self.band[1:] == self.band[:-1])
            & (np.abs(np.diff(self.guaranteed)) < 1e-5)
            & (np.abs(np.diff(self.margin)) < 1e-9)
        )
        edges = [0, *(np.flatnonzero(~same) + 1), len(self.x)]
        return [(int(a), int(b)) for a, b in pairwise(edges)]


def columns_of(scene: Scene, axis: TimeAxis) -> Columns:
    """Return the columns of a scene's profile on an axis."""
    profile = scene.profile
    count = max(int(axis.right - axis.left), 1)
    x: Array = np.asarray(axis.left + np.arange(count), np.float64)
    guaranteed, margin = np.full(count, np.nan), np.full(count, np.nan)
    edges = _pixels(axis, profile.t) - axis.left
    stretches = np.flatnonzero((np.diff(profile.t) > 0) & ~np.isnan(profile.guaranteed))
    asked = np.nan_to_num(profile.margin[stretches])
    left = profile.guaranteed[stretches]
    # What touches is worse than anything that only comes near.
    rank = np.where(left > 0, left - asked, -np.inf)
    # The worst comes last, and of equals the first in time: what is put in last stays.
    worst_last = np.lexsort((-stretches, -rank))
    first = np.clip(edges[stretches], 0, count).astype(int)[worst_last]
    last = np.clip(np.ceil(edges[stretches + 1]), 0, count).astype(int)[worst_last]
    wide = np.maximum(last - first, 0)
    starts = np.cumsum(wide) - wide
    column = np.arange(wide.sum()) + np.repeat(first - starts, wide)
    guaranteed[column] = np.repeat(left[worst_last], wide)
    margin[column] = np.repeat(asked[worst_last], wide)
    band = bands_of(guaranteed, margin)
    for span in scene.contact_spans:
        band[_columns_in(axis, span, count)] = CONTACT
    return Columns(x, guaranteed, margin, band)


def _pixels(axis: TimeAxis, times: Array) -> Array:
    """Pixels ``(n,)`` of times ``(n,)`` s."""
    share = np.interp(times, axis.times, axis.shares)
    width = axis.zoom.end - axis.zoom.start
    return np.asarray(
        axis.left + (share - axis.zoom.start) / width * (axis.right - axis.left), float
    )


def _columns_in(axis: TimeAxis, span: Span, count: int) -> slice:
    """Return the columns of a contact: it has to be seen however short it is."""
    found = axis.clipped(span.start, span.end, CONTACT_WIDTH)
    if found is None:
        return slice(0, 0)
    return slice(max(int(found[0] - axis.left), 0), min(int(np.ceil(found[1] - axis.left)), count))

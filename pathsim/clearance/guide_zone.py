"""Where a slide and what it runs on touch by design: along the profile of the guides."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.clearance.joint_zone import PAD, along, section
from pathsim.model import Mesh
from pathsim.transforms import Array, BoolArray

_CELL = 2e-3  # m, of the grid in which profiles are kept
_SLICES = 24
#: A guide is there in at least this share of the slices; an end stop is in a few of them alone.
_SHARE = 0.75
#: A wall may lean or be bowed so far and still count as running along, m.
_LEAN = 4e-3


@dataclass(frozen=True, eq=False)
class GuideZone:
    """Near the walls that run all along the slide's axis (z), however far along it.

    ``sums (n + 1, m + 1)``: how many cells of a grid, which begins at ``corner (2,)``, lie in the
    zone, counted up from there. ``width`` m: how far the zone reaches from those walls.
    """

    corner: Array
    sums: np.ndarray
    width: float = PAD

    def sort(self, triangles: Array) -> tuple[BoolArray, BoolArray]:
        """Tell which of ``triangles (n, 3, 3)`` lie wholly inside, and which wholly outside."""
        cells = np.floor((triangles[..., :2] - self.corner) / _CELL).astype(np.int64)
        low, high = cells.min(axis=1), cells.max(axis=1) + 1
        most = np.array(self.sums.shape) - 1
        first, last = np.clip(low, 0, most), np.clip(high, 0, most)
        s = self.sums
        held = (
            s[last[:, 0], last[:, 1]] - s[first[:, 0], last[:, 1]]
            - s[last[:, 0], first[:, 1]] + s[first[:, 0], first[:, 1]]
        )  # fmt: skip
        return held == (high - low).prod(axis=1), held == 0


def guide_zone(first: Mesh, second: Mesh) -> GuideZone | None:
    """Return the zone of two meshes in the frame of the slide's axis; None if nothing runs along.

    The longer of the two along the axis has the guides.
    """
    lengths = [float(np.ptp(mesh.bounds[:, 2])) for mesh in (first, second)]
    guide = first if lengths[0] >= lengths[1] else second
    low, high = guide.bounds
    corner = low[:2] - PAD - 2 * _CELL
    shape = np.ceil((high[:2] + PAD + 2 * _CELL - corner) / _CELL).astype(np.int64) + 1
    triangles = guide.vertices[guide.faces]
    found = np.zeros(shape, np.int64)
    # Slices stand in the middle of equal pieces: none lies in a face at an end.
    for height in low[2] + (np.arange(_SLICES) + 0.5) / _SLICES * (high[2] - low[2]):
        points = along(*section(triangles, height), _CELL / 2)
        walls = np.zeros(shape, dtype=bool)
        walls[tuple(np.floor((points[:, :2] - corner) / _CELL).astype(np.int64).T)] = True
        found += _wider(walls, _LEAN)
    running = _wider(found >= _SHARE * _SLICES, PAD - _LEAN)
    if not running.any():
        return None
    sums = np.zeros(shape + 1, np.int64)
    sums[1:, 1:] = running.cumsum(axis=0).cumsum(axis=1)
    return GuideZone(corner, sums)


def _wider(cells: np.ndarray, by: float) -> np.ndarray:
    """Return cells, and all whose middle is at most ``by`` m from the middle of one of them."""
    from scipy.ndimage import distance_transform_edt

    if not cells.any():
        return cells
    return np.asarray(distance_transform_edt(~cells) * _CELL <= by)

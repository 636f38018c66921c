"""The welding position in which a turning table is to keep a seam while it is welded."""

from __future__ import annotations

from enum import StrEnum

import numpy as np


class WantedPosition(StrEnum):
    """Level positions of ISO 6947 by their letters, or the one in which the seam is begun."""

    PA = "PA"
    PB = "PB"
    PC = "PC"
    AT_START = "as at start"

    @property
    def rotation(self) -> float | None:
        """Angle of the line out of the weld over the horizontal, rad; None: as at the start."""
        degrees = {WantedPosition.PA: 90.0, WantedPosition.PB: 45.0, WantedPosition.PC: 0.0}
        return None if self not in degrees else float(np.radians(degrees[self]))

"""Where a jig stands and where the wire's tip is, from places that the tip touched.

Each fit says its residuals, what is left unknown, and how much further off it may be.
"""

from pathsim.touches.placement import (
    Feature,
    Placement,
    Touch,
    fit_placement,
    odd_one_out,
    touch_noise,
)
from pathsim.touches.tip import TipFit, fit_tip
from pathsim.touches.wire_axis import WireAxis, from_mesh, wire_axis

__all__ = [
    "Feature",
    "Placement",
    "TipFit",
    "Touch",
    "WireAxis",
    "fit_placement",
    "fit_tip",
    "from_mesh",
    "odd_one_out",
    "touch_noise",
    "wire_axis",
]

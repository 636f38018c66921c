"""Torch, tool centre point, wire and process on a sheet: to compare with the cell."""

from __future__ import annotations

import numpy as np

from pathsim.model import Cell
from pathsim.units import degrees, millimetres


def setup_lines(cell: Cell) -> tuple[str, ...]:
    """Say what torch, wire and process the program was checked with."""
    torch = cell.torch
    x, y, z = (float(v) * 1e3 for v in torch.T_flange_tcp[:3, 3])
    bend = degrees(_bend(cell), 0)
    lines = [
        f"{torch.name}: tool centre point x {x:.1f}, y {y:.1f}, z {z:.1f} mm from the flange, wire "
        f"{bend} off its axis; stick-out {millimetres(torch.wire_length)}, wire diameter "
        f"{millimetres(torch.wire_diameter, 2)}"
    ]
    process = cell.process
    if process is not None:
        known = (
            ("wire feed", process.wire_feed, 60.0, "m/min"),
            ("voltage", process.voltage, 1.0, "V"),
            ("current", process.current, 1.0, "A"),
        )
        said = [f"{name} {value * scale:.3g} {unit}" for name, value, scale, unit in known
                if value is not None]  # fmt: skip
        if said:
            lines.append("Process: " + ", ".join(said))
    return tuple(lines)


def _bend(cell: Cell) -> float:
    """Angle between the wire and the flange's axis, rad."""
    return float(np.arccos(np.clip(cell.torch.T_flange_tcp[2, 2], -1.0, 1.0)))

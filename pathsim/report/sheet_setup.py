"""Torch, tool centre point, wire, process and hoses on a sheet: to compare with the cell."""

from __future__ import annotations

import numpy as np

from pathsim.check import CheckResult
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


def hose_lines(result: CheckResult) -> tuple[str, ...]:
    """Say how far the program winds hoses up, against what the cell says that they stand."""
    cell, trajectory = result.cell, result.trajectory
    if not cell.hoses or not len(trajectory.q):
        return ()
    said = []
    for hose in cell.hoses:
        values = trajectory.q[:, hose.joint]
        text = (
            f"{cell.axes.names[hose.joint]} turns {degrees(float(np.ptp(values)), 0)} of "
            f"{degrees(hose.turns, 0)}"
        )
        if hose.unwound is not None:
            way = float(np.abs(values - hose.unwound).max())
            text += f", {degrees(way, 0)} of {degrees(hose.turns / 2, 0)} off unwound"
        said.append(text)
    return (f"Hoses: {'; '.join(said)}",)


def _bend(cell: Cell) -> float:
    """Angle between the wire and the flange's axis, rad."""
    return float(np.arccos(np.clip(cell.torch.T_flange_tcp[2, 2], -1.0, 1.0)))

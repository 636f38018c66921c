"""``pathsim place CELL torch``: tip and wire as touched, against the torch's description."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pathsim.errors import CannotCheck
from pathsim.files.touches_file import TouchRow
from pathsim.model import Cell
from pathsim.touches import TipFit, WireAxis, fit_tip, from_mesh, wire_axis
from pathsim.transforms import Array
from pathsim.units import degrees, millimetres

if TYPE_CHECKING:
    from rich.console import Console

#: What a tip and a wire are let pass, m and rad: they are not known better.
_CLOSE, _CLOSE_TURN = 1e-3, np.radians(0.5)


def axes_of(cell: Cell, shown: Array) -> Array:
    """Return axes ``(axes,)`` for what the display shows of them."""
    dof = cell.arm.dof
    return np.concatenate([cell.arm.readings.model(shown[:dof]), shown[dof:]])


def compare_torch(cell: Cell, rows: list[TouchRow], noise: float, console: Console) -> bool:
    """Print what touched spots say of the torch; return whether the description agrees."""
    spots: dict[str, list[TouchRow]] = {}
    for row in rows:
        if row.shown is None:
            raise CannotCheck(f"touch '{row.name}' has no joint values; the tip is told from them")
        spots.setdefault(row.spot or "the spot", []).append(row)
    fits = {}
    for spot, here in spots.items():
        shown = [row.shown for row in here if row.shown is not None]
        q = np.array([axes_of(cell, values)[: cell.arm.dof] for values in shown])
        fits[spot] = fit_tip(cell.arm.pose(q), noise)
    axis = wire_axis(list(fits.values()), cell.torch.T_flange_tcp)
    is_right = True
    for spot, here in spots.items():
        _say_residuals(spot, here, fits[spot], console)
        agrees = _say_tip(cell, fits[spot], console, is_along_judged=axis is None)
        _say_mesh(cell, fits[spot], console)
        is_right = is_right and agrees
    return _say_axis(axis, console) and is_right if axis is not None else is_right


def _say_residuals(spot: str, here: list[TouchRow], found: TipFit, console: Console) -> None:
    place = " ".join(f"{1e3 * v:.2f}" for v in found.tip)
    console.print(f"{spot}: {len(here)} postures. Tool centre point on the flange: {place} mm")
    for row, left in zip(here, found.residuals, strict=True):
        console.print(f"  {row.name}: {millimetres(left)} off the spot")
    console.print(f"  Known to {millimetres(found.off)} (95 times in 100).")


def _say_tip(cell: Cell, found: TipFit, console: Console, *, is_along_judged: bool) -> bool:
    """Say where the description has the tip; with several lengths of wire along it is no fault."""
    drawn = cell.torch.T_flange_tcp
    apart = found.tip - drawn[:3, 3]
    along = float(apart @ drawn[:3, 2])
    side = float(np.linalg.norm(apart - along * drawn[:3, 2]))
    off = float(np.linalg.norm(apart)) if is_along_judged else side
    agrees = off <= max(found.off, _CLOSE)
    console.print(
        f"  The description has it {millimetres(abs(along))} "
        f"{'shorter' if along > 0 else 'longer'} along the wire and {millimetres(side)} to "
        f"the side: {'it agrees' if agrees else 'it does not agree'}."
    )
    if not agrees:
        place = " ".join(f"{1e3 * v:.1f}" for v in found.tip)
        console.print(
            "  By hand, in the torch's description: with 'built', measure stick-out, nozzle and "
            "neck again for what is off along the wire, the neck's angle and 'towards' for the "
            f"side; with 'pieces', 'tool centre point' at {place} mm."
        )
    return agrees


def _say_mesh(cell: Cell, found: TipFit, console: Console) -> None:
    """Say how far the tip is from what the torch is drawn as; a tip in it is a wrong drawing."""
    meshes = [piece.mesh for piece in cell.torch.pieces]
    if not meshes:
        return
    away = from_mesh(found.tip, meshes)
    drawn = from_mesh(cell.torch.T_flange_tcp[:3, 3], meshes)
    if away < 0:
        console.print("  It lies inside of the torch as drawn: mesh, unit or flange is wrong.")
        return
    console.print(
        f"  From the torch as drawn it is {millimetres(away)} away; the described tip is "
        f"{millimetres(abs(drawn))}{' inside' if drawn < 0 else ''}."
    )


def _say_axis(axis: WireAxis, console: Console) -> bool:
    agrees = bool(axis.turn <= max(axis.off, _CLOSE_TURN))
    x, y, z = axis.direction
    console.print(
        f"The wire leaves along {x:.3f} {y:.3f} {z:.3f} on the flange, known to "
        f"{degrees(axis.off)}: {degrees(axis.turn)} off the description, "
        f"{'it agrees' if agrees else 'it does not agree'}."
    )
    return agrees

"""An arm's description in words, and what readings say of it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from pathsim.arm.alignment import characteristic_length, smallest_singular_value
from pathsim.arm.inverse import closed_form
from pathsim.arm.postures import has_postures, measures, posture_of
from pathsim.arm.reach import reach
from pathsim.caution import CAUTION
from pathsim.findings.axis_words import asked_for
from pathsim.model import Cell
from pathsim.units import degrees, millimetres


def print_arm(cell: Cell, console: Console) -> None:
    """Print reach, build, limits, display and the posture of each taught point."""
    arm = cell.arm
    console.print(Text(f"{arm.name}, in {cell.name}"), style="bold")
    for line in _build_lines(cell):
        console.print(Text(line))
    console.print()
    console.print(_axes_table(cell))
    console.print()
    console.print(_points_table(cell))
    console.print(Text(CAUTION), style="italic")


def _build_lines(cell: Cell) -> list[str]:
    arm, solver = cell.arm, closed_form(cell.arm)
    at = " ".join(f"{v * 1e3:.0f}" for v in cell.T_world_base[:3, 3])
    up = float(cell.T_world_base[2, 2])
    stands = "upright" if up > 0.999 else "upside down" if up < -0.999 else "tilted"
    lines = [f"Stands {stands} at {at} mm."]
    if solver is not None:
        lines.append("Spherical wrist: all postures of a pose are known (closed form).")
    else:
        lines.append(
            "No spherical wrist: postures are searched for numerically and may be missed. "
            f"Singular values are taken with lengths divided by "
            f"{millimetres(characteristic_length(arm), 0)}."
        )
    lines.append(_reach_line(cell))
    if arm.held is not None:
        name = cell.axes.names[arm.held]
        lines.append(f"{name.capitalize()} goes evenly from point to point on straight moves.")
    if arm.shown_limits is not None:
        moving = [arm.joint_name(j) for j in range(arm.dof) if arm.has_moving_limits(j)]
        text = "Limits are given as displayed, and shown here in the model."
        if moving:
            verb = "depend" if len(moving) > 1 else "depends"
            text += (
                f" What {' and '.join(moving)} may do {verb} on another joint: the range here is "
                "the widest, and each posture is checked on the display's side."
            )
        lines.append(text)
    if cell.approximate_links:
        lines.append("Some links are simple solids of given size, not the real castings.")
    return lines


def _reach_line(cell: Cell) -> str:
    """How far wrist, flange and tip come from axis 1."""
    found = reach(cell.arm, cell.torch.T_flange_tcp)
    parts = [] if found.wrist is None else [f"centre of the wrist {millimetres(found.wrist, 0)}"]
    parts += [f"flange {millimetres(found.flange, 0)}", f"tip {millimetres(found.tip, 0)}"]
    text = f"Reach from axis 1 (joint limits ignored): {', '.join(parts)}."
    if not found.is_exact:
        text += (
            " Flange and tip were found by search; with all lengths in one line the tip would be "
            f"at {millimetres(found.most, 0)}, never farther."
        )
    return text


def _axes_table(cell: Cell) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="dim")
    for name in ("axis", "from", "to", "speed", "acceleration"):
        table.add_column(name, justify="left" if name == "axis" else "right", no_wrap=True)
    readings = cell.arm.readings
    if not readings.is_identity:
        table.add_column("model value for what the display shows")
    axes = cell.axes
    for i, name in enumerate(axes.names):
        say = millimetres if axes.prismatic[i] else degrees
        cells = [name]
        cells += [_limit(v, say) for v in (axes.lower[i], axes.upper[i])]
        cells += [f"{say(float(axes.speed[i]), 0)}/s", f"{say(float(axes.acceleration[i]), 0)}/s2"]
        if not readings.is_identity:
            cells.append(_formula(cell, i))
        table.add_row(*(Text(c) for c in cells))
    return table


def _limit(value: float, say: Callable[[float, int], str]) -> str:
    return "none" if not np.isfinite(value) else say(float(value), 0)


def _formula(cell: Cell, axis: int) -> str:
    """How the model's value comes from the display."""
    readings, arm = cell.arm.readings, cell.arm
    if axis >= arm.dof:
        return "as shown"
    parts: list[str] = []
    for other in np.flatnonzero(readings.mix[axis]):
        factor = float(readings.mix[axis, other])
        size = "" if abs(factor) == 1 else f"{abs(factor):g} x "
        sign = "-" if factor < 0 else "+" if parts else ""
        shown = "shown" if other == axis else f"{arm.joint_name(int(other))} shown"
        parts.append(f"{sign} {size}{shown}".strip())
    zero = float(readings.zero[axis])
    if zero:
        parts.append(f"{'-' if zero < 0 else '+'} {degrees(abs(zero), 2)}")
    text = " ".join(parts)
    return "as shown" if text == "shown" else text


def _points_table(cell: Cell) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="dim")
    for name in ("point", "posture", "wrist", "elbow", "shoulder"):
        table.add_column(name)
    arm = cell.arm
    for point in cell.points.values():
        if point.derived:
            continue
        if point.q is None:
            asked = asked_for(cell, point) or "least turn from the point before"
            table.add_row(Text(point.name), Text(f"pose only ({asked})"), "", "", "")
            continue
        q = point.q[: arm.dof]
        outside = np.flatnonzero(~arm.within_limits(q))
        past = "".join(f", {arm.joint_name(int(j))} past its limit" for j in outside)
        if has_postures(arm):
            m = measures(arm, q)
            table.add_row(
                Text(point.name),
                Text(f"{posture_of(arm, q)}{past}"),
                Text(f"{degrees(abs(float(m.wrist)))} from aligned"),
                Text(f"{degrees(abs(float(m.elbow)))} from straight"),
                Text(f"{millimetres(abs(float(m.shoulder)), 0)} from axis 1"),
            )
        else:
            value = float(smallest_singular_value(arm, q, characteristic_length(arm)))
            said = f"smallest singular value {value:.3f}"
            table.add_row(Text(point.name), Text(said + past), "", "", "")
    return table

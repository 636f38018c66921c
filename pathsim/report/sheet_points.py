"""The points of a program on its sheet, as the display counts them: to compare, and to teach."""

from __future__ import annotations

from pathsim.advice.keyed_in import keyed_in
from pathsim.check import CheckResult
from pathsim.findings.axis_words import column_name
from pathsim.report.sheet_records import PointRow
from pathsim.report.short_names import ShortNames
from pathsim.transforms import Array


def points_heads(result: CheckResult) -> tuple[str, ...]:
    """Return the headings of the table of points: axes with their units, then the tool's place."""
    cell = result.cell
    heads = []
    for axis, slides in enumerate(cell.axes.prismatic):
        name = column_name(cell.arm, axis) if axis < cell.arm.dof else cell.axes.names[axis]
        heads.append(f"{name} {'mm' if slides else 'deg'}")
    return (*heads, "x mm", "y mm", "z mm")


def points_rows(result: CheckResult, names: ShortNames) -> tuple[PointRow, ...]:
    """Return every point of the program once, in its order, with the axes that it is run with.

    Places are the tool centre point's, from the base that the display counts from.
    """
    cell = result.cell
    found: dict[str, Array] = {}
    welded: set[str] = set()
    for track in result.trajectory.tracks:
        if track.continuous:
            found.setdefault(track.start, track.q[0])
        if track.fault is None:
            found.setdefault(track.move.target, track.q[-1])
        if track.move.arc_on:
            welded |= {track.start, track.move.target}
    factors = [1e3 if slides else 57.29577951308232 for slides in cell.axes.prismatic]
    rows = []
    for point in keyed_in(cell, found):
        axes = [f"{value * k + 0.0:.1f}" for value, k in zip(point.shown, factors, strict=True)]
        place = [f"{1e3 * value + 0.0:.1f}" for value in point.place]
        rows.append(PointRow(names(point.name), (*axes, *place), point.name in welded))
    return tuple(rows)

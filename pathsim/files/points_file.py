"""``points.csv``: one taught point a row, as joint readings, or pose, or both."""

from __future__ import annotations

import csv
import hashlib
import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from pathsim.arm import Arm
from pathsim.files.faults import FaultList
from pathsim.files.frames import PoseFrame
from pathsim.files.points_header import (
    PLACE,
    Column,
    PointsForm,
    is_quaternion,
    read_header,
    turn_columns,
)
from pathsim.files.posture_columns import contradicts, read_asked
from pathsim.files.table_layout import (
    TableLayout,
    TableRows,
    has_headings,
    is_heading,
    own_columns,
)
from pathsim.files.value_table import is_blank, no_text
from pathsim.model import Point
from pathsim.transforms import (
    Array,
    frozen,
    pose,
    rotation_from_angles,
    rotation_from_quat_wxyz,
)

#: A table with our own headings.
OUR_OWN = TableLayout()
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_LARGEST = 1e5
#: More than ten turns of a joint are not meant, rad.
_MOST_TURN = 20 * np.pi
_FARTHEST = 100.0  # m, on a slide


@dataclass
class PointsTable:
    """Points by name, with the line of each, and the hash of the file."""

    points: dict[str, Point] = field(default_factory=dict)
    lines: dict[str, int] = field(default_factory=dict)
    digest: bytes = b""
    is_readable: bool = False


def read_points(
    path: Path,
    shown: str,
    form: PointsForm,
    arm: Arm,
    frame: PoseFrame,
    faults: FaultList,
    layout: TableLayout = OUR_OWN,
) -> PointsTable:
    """Read a points file; every fault is noted with its line and column.

    The header names columns and units: ``name, j1 deg, ...`` (``rail mm`` before and ``table deg``
    behind, where the cell has them), ``x mm, y mm, z mm, r1 deg, r2 deg, r3 deg`` (angles in the
    order in which the rotation convention names its axes), or ``qw, qx, qy, qz``, ``posture``,
    rough joint values (``about j6 deg``) and ``note``. Axes are what the display shows
    (``ReadingsMap``). Separators: comma, semicolon (then a decimal comma is fine) or tab.
    ``frame``: where
    poses are counted from. ``layout``: what the cell says of a table that is laid out otherwise.
    """
    table = PointsTable()
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
    except FileNotFoundError:
        faults.add(shown, None, "", "the file is missing", "the points file the cell names")
        return table
    except UnicodeDecodeError as error:
        line, came, cure = no_text(raw, error)
        faults.add(shown, line, "", came, "UTF-8 text", cure)
        return table
    except OSError as error:
        faults.add(shown, None, "", f"cannot be read ({type(error).__name__})", "a readable file")
        return table
    table.digest = hashlib.sha256(raw).digest()
    rows = TableRows(text, layout)
    try:
        _read_rows(table, rows, layout, shown, form, arm, frame, faults)
    except csv.Error as error:
        faults.add(shown, rows.line, "", f"is no table of values: {error}", "CSV text")
    return table


def _read_rows(
    table: PointsTable,
    rows: TableRows,
    layout: TableLayout,
    shown: str,
    form: PointsForm,
    arm: Arm,
    frame: PoseFrame,
    faults: FaultList,
) -> None:
    """Read header and rows of an opened table."""
    columns: dict[str, Column] | None = None
    first: list[str] | None = None
    for cells in rows:
        line = rows.line
        if is_blank(cells):
            continue
        if columns is None:
            first = cells if first is None else first
            if layout.has_own_columns:
                if has_headings(layout) and not is_heading(cells, layout):
                    continue
                columns = own_columns(cells, line, shown, layout, form, faults)
            else:
                columns = read_header(cells, line, shown, form, faults)
            if columns is None:
                return
            table.is_readable = True
            if not layout.has_own_columns or has_headings(layout):
                continue
        reading = PointRow(cells, columns, shown, line, rows.decimal_comma, faults,
                           is_comma_only=rows.is_comma_only)  # fmt: skip
        _add(table, reading, form, arm, frame, may_be_wider=layout.has_own_columns)
    if columns is None and first is not None and layout.has_own_columns:
        own_columns(first, 1, shown, layout, form, faults)
    elif columns is None:
        faults.add(shown, 1, "", "the file has no header", "name, j1 deg, j2 deg, ...")


class PointRow:
    """One row: reads groups of numbers and notes what cannot be read."""

    def __init__(
        self,
        cells: list[str],
        columns: dict[str, Column],
        shown: str,
        line: int,
        decimal_comma: bool,
        faults: FaultList,
        *,
        is_comma_only: bool = False,
    ) -> None:
        """``is_comma_only``: decimals are commas, so that a point may part thousands."""
        self._is_comma_only = is_comma_only
        self.cells, self.columns, self.shown, self.line = cells, columns, shown, line
        self._decimal_comma = decimal_comma
        self.faults = faults

    @property
    def name(self) -> str:
        """Return what the row calls its point."""
        return self.text("name")

    def text(self, name: str) -> str:
        """Return a cell's text; empty when the column or the cell is not there."""
        if name not in self.columns:
            return ""
        index = self.columns[name].index
        return self.cells[index].strip() if index < len(self.cells) else ""

    def pose(self, form: PointsForm) -> Array | None:
        """Return the pose ``(4, 4)`` as written; None when there is none, or after a fault."""
        before = len(self.faults)
        place, turn = self.group(PLACE), self.group(turn_columns(form.rotation))
        if len(self.faults) > before:
            return None
        if (place is None) != (turn is None):
            came = "has half a pose: " + ("no rotation" if turn is None else "no position")
            self.faults.add(self.shown, self.line, self.name, came, "position and rotation")
            return None
        if place is None or turn is None or form.rotation is None:
            return None
        if not is_quaternion(form.rotation):
            return pose(rotation_from_angles(form.rotation, turn), place)
        if abs(np.linalg.norm(turn) - 1) > 0.01:
            came = f"the quaternion has length {np.linalg.norm(turn):.4f}"
            self.faults.add(self.shown, self.line, self.name, came, "length 1")
            return None
        return pose(rotation_from_quat_wxyz(turn), place)

    def group(self, names: tuple[str, ...]) -> Array | None:
        """Return the numbers of a group in SI; None when all are blank or one is a fault."""
        if names[0] not in self.columns:
            return None
        texts = [self.text(name) for name in names]
        if not any(texts):
            return None
        values = []
        for name, text in zip(names, texts, strict=True):
            number = self._number(text)
            if number is None:
                came = f"came '{text}'" if text else "is blank"
                key, expected = f"{self.name}, {name}", "a finite number that can be meant"
                if self._is_comma_only and "." in text:
                    expected = "decimals with a comma and no point, as in the rest of the table"
                self.faults.add(self.shown, self.line, key, came, expected)
            else:
                values.append(number * self.columns[name].scale)
        return np.array(values) if len(values) == len(names) else None

    def _number(self, text: str) -> float | None:
        if self._is_comma_only and "." in text:
            return None  # 1.024 may be a thousand and twenty-four
        if self._decimal_comma:
            text = text.replace(",", ".")
        if not _NUMBER.fullmatch(text):
            return None
        value = float(text)
        # A joint value, place or quaternion beyond this is a slip of the pen in any unit.
        return value if abs(value) <= _LARGEST else None


def _add(
    table: PointsTable, row: PointRow, form: PointsForm, arm: Arm, frame: PoseFrame,
    *, may_be_wider: bool,
) -> None:  # fmt: skip
    """Put one row into the table."""
    name, faults = row.name, row.faults
    if not name:
        faults.add(row.shown, row.line, "name", "is blank", "a name for the point")
        return
    if name in table.lines:
        came = f"the name '{name}' stands in line {table.lines[name]} already"
        faults.add(row.shown, row.line, "name", came, "a name for each point")
        return
    width = max(column.index for column in row.columns.values()) + 1
    if not may_be_wider and any(cell.strip() for cell in row.cells[width:]):
        came = f"the row has {len(row.cells)} cells"
        faults.add(row.shown, row.line, name, came, "as many as the header has columns")
    found = len(faults)
    held = row.group(form.held) if form.held else None
    only_held = all(not row.text(name) for name in form.names if name not in form.held)
    shown = None if only_held and form.held else row.group(form.names)
    T = row.pose(form)
    asked = read_asked(row, form, arm)
    table.lines[name] = row.line
    if len(faults) > found:
        return
    q = None if shown is None else _model_axes(arm, shown)
    kinds = np.array([kind for _, kind in form.axes])
    if q is not None and (np.abs(q) > np.where(kinds == "length", _FARTHEST, _MOST_TURN)).any():
        worst = int(np.argmax(np.abs(q)))
        came = f"came {np.degrees(q[worst]):.0f} deg"
        key = f"{name}, {form.names[worst]}"
        faults.add(row.shown, row.line, key, came, "at most ten turns")
        return
    if q is not None and contradicts(row, form, arm, q[: arm.dof], asked):
        return
    if q is None and T is not None and form.held and held is None:
        came = "has a pose, but does not say where the arm's held axes stand"
        faults.add(row.shown, row.line, name, came, "values for " + ", ".join(form.held))
        return
    if T is not None:
        told = held if q is None else q
        T = frame.in_base(T, arm.readings.T_base_shown, told)
    if q is None and T is None:
        faults.add(row.shown, row.line, name, "has neither joints nor a pose", "one of them")
        return
    table.points[name] = Point(
        name,
        None if q is None else frozen(q),
        None if T is None else frozen(T),
        None if held is None or q is not None else frozen(_model_held(row, form, arm, held)),
        asked.posture,
        asked.about,
    )


def _model_axes(arm: Arm, shown: Array) -> Array:
    """Axes of the model for what the display shows; the turning table shows its own."""
    return np.concatenate([arm.readings.model(shown[: arm.dof]), shown[arm.dof :]])


def _model_held(row: PointRow, form: PointsForm, arm: Arm, shown: Array) -> Array:
    """Held axes of the model for what the display shows; a rail and a table show their own."""
    if arm.held is None or arm.readings.is_identity:
        return shown
    mix, zero = arm.readings.mix[arm.held], arm.readings.zero[arm.held]
    others = [k for k in np.flatnonzero(mix) if k != arm.held]
    if others:
        came = f"{form.held[0]} is coupled to another joint, so it alone says nothing"
        row.faults.add(row.shown, row.line, row.name, came, "all joint values of the point")
        return shown
    model = np.array(shown)
    model[0] = mix[arm.held] * shown[0] + zero
    return model

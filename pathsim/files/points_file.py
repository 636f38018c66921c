"""``points.csv``: one taught point a row, as joint readings, or pose, or both."""

from __future__ import annotations

import csv
import hashlib
import io
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from pathsim.files.faults import FaultList
from pathsim.files.points_header import (
    PLACE,
    Column,
    is_quaternion,
    joint_columns,
    read_header,
    turn_columns,
)
from pathsim.model import Point
from pathsim.transforms import (
    Array,
    frozen,
    inverse,
    pose,
    rotation_from_angles,
    rotation_from_quat_wxyz,
)

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_LARGEST = 1e5
#: More than ten turns of a joint are not meant, rad.
_MOST_TURN = 20 * np.pi


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
    dof: int,
    rotation: str | None,
    frame: str | None,
    T_world_base: Array,
    faults: FaultList,
) -> PointsTable:
    """Read a points file; every fault is noted with its line and column.

    The header names columns and units: ``name, j1 deg, ..., x mm, y mm, z mm, r1 deg, r2 deg,
    r3 deg`` (angles in the order in which the rotation convention names its axes), or
    ``qw, qx, qy, qz``. Separators: comma, semicolon (then a decimal comma is fine) or tab.
    """
    table = PointsTable()
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
    except FileNotFoundError:
        faults.add(shown, None, "", "the file is missing", "the points file the cell names")
        return table
    except (OSError, UnicodeDecodeError) as error:
        faults.add(shown, None, "", f"cannot be read ({type(error).__name__})", "UTF-8 text")
        return table
    table.digest = hashlib.sha256(raw).digest()
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = (line for line in text.split("\n") if line.strip() and line.lstrip()[0] != "#")
    first = next(lines, "")
    separator = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text), delimiter=separator)
    try:
        _read_rows(table, reader, separator, shown, dof, rotation, frame, T_world_base, faults)
    except csv.Error as error:
        faults.add(shown, reader.line_num, "", f"is no table of values: {error}", "CSV text")
    return table


def _read_rows(
    table: PointsTable,
    reader: Any,
    separator: str,
    shown: str,
    dof: int,
    rotation: str | None,
    frame: str | None,
    T_world_base: Array,
    faults: FaultList,
) -> None:
    """Read header and rows of an opened table."""
    columns: dict[str, Column] | None = None
    for cells in reader:
        line = reader.line_num
        if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
            continue
        if columns is None:
            columns = read_header(cells, line, shown, dof, rotation, frame, faults)
            if columns is None:
                return
            table.is_readable = True
            continue
        reading = _Row(cells, columns, shown, line, separator == ";", faults)
        _add(table, reading, dof, rotation, frame, T_world_base)
    if columns is None:
        faults.add(shown, 1, "", "the file has no header", "name, j1 deg, j2 deg, ...")


class _Row:
    """One row: reads groups of numbers and notes what cannot be read."""

    def __init__(
        self,
        cells: list[str],
        columns: dict[str, Column],
        shown: str,
        line: int,
        decimal_comma: bool,
        faults: FaultList,
    ) -> None:
        self.cells, self.columns, self.shown, self.line = cells, columns, shown, line
        self._decimal_comma = decimal_comma
        self.faults = faults

    @property
    def name(self) -> str:
        """Return what the row calls its point."""
        return self._text("name")

    def _text(self, name: str) -> str:
        index = self.columns[name].index
        return self.cells[index].strip() if index < len(self.cells) else ""

    def group(self, names: tuple[str, ...]) -> Array | None:
        """Return the numbers of a group in SI; None when all are blank or one is a fault."""
        if names[0] not in self.columns:
            return None
        texts = [self._text(name) for name in names]
        if not any(texts):
            return None
        values = []
        for name, text in zip(names, texts, strict=True):
            number = self._number(text)
            if number is None:
                came = f"came '{text}'" if text else "is blank"
                key = f"{self.name}, {name}"
                self.faults.add(
                    self.shown, self.line, key, came, "a finite number that can be meant"
                )
            else:
                values.append(number * self.columns[name].scale)
        return np.array(values) if len(values) == len(names) else None

    def _number(self, text: str) -> float | None:
        if self._decimal_comma:
            text = text.replace(",", ".")
        if not _NUMBER.fullmatch(text):
            return None
        value = float(text)
        # A joint value, place or quaternion beyond this is a slip of the pen in any unit.
        return value if abs(value) <= _LARGEST else None


def _add(
    table: PointsTable,
    row: _Row,
    dof: int,
    rotation: str | None,
    frame: str | None,
    T_world_base: Array,
) -> None:
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
    if any(cell.strip() for cell in row.cells[width:]):
        came = f"the row has {len(row.cells)} cells"
        faults.add(row.shown, row.line, name, came, "as many as the header has columns")
    found = len(faults)
    q = row.group(joint_columns(dof))
    place, turn = row.group(PLACE), row.group(turn_columns(rotation))
    table.lines[name] = row.line
    if len(faults) > found:
        return
    if q is not None and np.abs(q).max() > _MOST_TURN:
        worst = int(np.argmax(np.abs(q)))
        came = f"came {np.degrees(q[worst]):.0f} deg"
        faults.add(row.shown, row.line, f"{name}, j{worst + 1}", came, "at most ten turns")
        return
    if (place is None) != (turn is None):
        came = "has half a pose: " + ("no rotation" if turn is None else "no position")
        faults.add(row.shown, row.line, name, came, "position and rotation")
        return
    T: Array | None = None
    if place is not None and turn is not None and rotation is not None:
        if is_quaternion(rotation):
            if abs(np.linalg.norm(turn) - 1) > 0.01:
                came = f"the quaternion has length {np.linalg.norm(turn):.4f}"
                faults.add(row.shown, row.line, name, came, "length 1")
                return
            R = rotation_from_quat_wxyz(turn)
        else:
            R = rotation_from_angles(rotation, turn)
        T = frozen(pose(R, place))
        if frame == "world":
            T = frozen(inverse(T_world_base) @ T)
    if q is None and T is None:
        faults.add(row.shown, row.line, name, "has neither joints nor a pose", "one of them")
        return
    table.points[name] = Point(name, None if q is None else frozen(q), T)

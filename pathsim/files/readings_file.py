"""A file of readings: joint values off the display, with the pose shown or the point touched."""

from __future__ import annotations

import csv
from pathlib import Path

from pathsim.arm import Arm
from pathsim.errors import CannotCheck
from pathsim.files.faults import FaultList
from pathsim.files.points_file import PointRow
from pathsim.files.points_header import PointsForm, read_header
from pathsim.files.value_table import has_decimal_commas, is_blank, no_text, open_table
from pathsim.fit import Reading

_LARGEST_FILE = 4_000_000  # bytes
_MOST_ROWS = 1000


def read_readings(path: Path, form: PointsForm, arm: Arm) -> list[Reading]:
    """Read rows ``name, j1 deg, ..., x mm, ..., touches``, units in the header as for points.

    A row needs all axes, and a pose or a word under ``touches``: rows with the same word had
    the tip on the same point. Raises CellFaults with every fault, CannotCheck when there is
    nothing to read.
    """
    faults = FaultList()
    shown = path.name
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
    except OSError as error:
        raise CannotCheck(f"the readings '{path}' cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        line, came, cure = no_text(raw, error)
        raise CannotCheck(f"the readings '{path}', line {line}: {came}. {cure}") from error
    if len(raw) > _LARGEST_FILE:
        raise CannotCheck(f"the readings '{path}' have {len(raw)} bytes; are they the right file?")
    reader, separator = open_table(text)
    commas = has_decimal_commas(text, separator)
    columns = None
    rows: list[Reading] = []
    try:
        for cells in reader:
            if is_blank(cells):
                continue
            line = reader.line_num
            if columns is None:
                columns = read_header(cells, line, shown, form, faults, ("note", "touches"))
                if columns is None:
                    break
                continue
            row = PointRow(cells, columns, shown, line, separator == ";", faults,
                           is_comma_only=commas)  # fmt: skip
            reading = _reading(row, form)
            if reading is not None:
                rows.append(reading)
    except csv.Error as error:
        faults.add(shown, reader.line_num, "", f"is no table of values: {error}", "CSV text")
    faults.raise_if_any()
    if not rows:
        raise CannotCheck(f"the readings '{path}' hold no rows")
    if len(rows) > _MOST_ROWS:
        raise CannotCheck(f"{len(rows)} readings are too many; {_MOST_ROWS} say all there is")
    return [row for row in rows if row.shown.shape == (arm.dof,)]


def _reading(row: PointRow, form: PointsForm) -> Reading | None:
    name, faults = row.name or f"line {row.line}", row.faults
    before = len(faults)
    values, T = row.group(form.names), row.pose(form)
    touches = row.text("touches") or None
    if len(faults) > before:
        return None
    if values is None:
        faults.add(row.shown, row.line, name, "has no joint readings", "all axes of the arm")
        return None
    if T is None and touches is None:
        came = "has neither a pose nor a word under 'touches'"
        faults.add(row.shown, row.line, name, came, "one of them")
        return None
    return Reading(name, row.line, values, T, touches)

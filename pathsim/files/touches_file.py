"""A file of touches: where the tip was, and which place of the drawing it touched."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pathsim.errors import CannotCheck, UnitError
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.points_file import PointRow
from pathsim.files.points_header import Column, PointsForm
from pathsim.files.value_table import has_decimal_commas, is_blank, no_text, open_table
from pathsim.touches import Feature
from pathsim.transforms import Array
from pathsim.units import factor, units_of

_HEADING = re.compile(r"^\s*([a-z]+\d*)\s*(?:[\[(]?\s*([^\])\s]+)\s*[\])]?)?\s*$", re.IGNORECASE)
TIP, DRAWN, DIRECTION = ("x", "y", "z"), ("dx", "dy", "dz"), ("nx", "ny", "nz")
_WORDS = ("name", "on", "touches", "note")
_LARGEST_FILE, _MOST_ROWS = 1_000_000, 500


@dataclass(frozen=True, eq=False)
class TouchRow:
    """One row: axes ``shown (axes,)`` off the display, or the ``tip (3,)`` that it shows, m.

    ``drawn (3,)`` and ``direction (3,)`` in the drawing; ``spot``: the word under ``touches``.
    """

    name: str
    line: int
    shown: Array | None
    tip: Array | None
    drawn: Array | None
    feature: Feature
    direction: Array | None
    spot: str


def read_touches(path: Path, form: PointsForm) -> list[TouchRow]:
    """Read rows ``name, j1 deg, ...`` or ``x mm, ...``, then ``dx mm, ..., on, nx, ny, nz``.

    Raises CellFaults with every fault, CannotCheck when there is nothing to read.
    """
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
    except OSError as error:
        raise CannotCheck(f"the touches '{path}' cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        line, came, cure = no_text(raw, error)
        raise CannotCheck(f"the touches '{path}', line {line}: {came}. {cure}") from error
    if len(raw) > _LARGEST_FILE:
        raise CannotCheck(f"the touches '{path}' have {len(raw)} bytes; are they the right file?")
    faults, shown = FaultList(), path.name
    reader, separator = open_table(text)
    commas = has_decimal_commas(text, separator)
    columns: dict[str, Column] | None = None
    rows: list[TouchRow] = []
    try:
        for cells in reader:
            if is_blank(cells):
                continue
            if columns is None:
                columns = _header(cells, reader.line_num, shown, form, faults)
                if columns is None:
                    break
                continue
            row = PointRow(cells, columns, shown, reader.line_num, separator == ";", faults,
                           is_comma_only=commas)  # fmt: skip
            touch = _touch(row, form)
            if touch is not None:
                rows.append(touch)
    except csv.Error as error:
        faults.add(shown, reader.line_num, "", f"is no table of values: {error}", "CSV text")
    faults.raise_if_any()
    if not rows:
        raise CannotCheck(f"the touches '{path}' hold no rows")
    if len(rows) > _MOST_ROWS:
        raise CannotCheck(f"{len(rows)} touches are too many; {_MOST_ROWS} say all there is")
    return rows


def _header(
    cells: list[str], line: int, shown: str, form: PointsForm, faults: FaultList
) -> dict[str, Column] | None:
    kinds = dict(form.axes) | dict.fromkeys((*TIP, *DRAWN), "length")
    kinds |= dict.fromkeys(DIRECTION, "") | dict.fromkeys(_WORDS, "text")
    columns: dict[str, Column] = {}
    before = len(faults)
    for index, cell in enumerate(cells):
        match = _HEADING.match(cell)
        name, unit = (match.group(1).lower(), match.group(2)) if match else (cell.strip(), None)
        key = f"column {index + 1}"
        if name not in kinds:
            rule = f"name, {', '.join(form.names)}, x y z, dx dy dz, on, nx ny nz, touches, note"
            faults.add(shown, line, key, f"came '{cell}'", rule, did_you_mean(name, kinds))
            continue
        if name in columns:
            faults.add(shown, line, key, f"'{name}' came twice", "it once")
            continue
        kind = kinds[name]
        try:
            scale = factor(unit or "", kind) if kind in ("length", "angle") else 1.0
        except UnitError:
            came = f"'{cell.strip()}' has no unit" if unit is None else f"came unit '{unit}'"
            faults.add(shown, line, key, came, f"'{name}' and a unit ({units_of(kind)})")
            continue
        columns[name] = Column(index, kind, scale)
    for group in (form.names, TIP, DRAWN, DIRECTION):
        missing = [name for name in group if name not in columns]
        if missing and len(missing) < len(group):
            faults.add(shown, line, "", f"no column '{missing[0]}' came", f"all of {group}")
    if not any(group[0] in columns for group in (form.names, TIP)):
        rule = "joint values (j1 deg, ...) or the tip's place (x mm, y mm, z mm)"
        faults.add(shown, line, "", "nothing says where the tip was", rule)
    return columns if len(faults) == before else None


def _touch(row: PointRow, form: PointsForm) -> TouchRow | None:
    name, faults = row.name or f"line {row.line}", row.faults
    before = len(faults)
    shown, tip = row.group(form.names), row.group(TIP)
    drawn, direction = row.group(DRAWN), row.group(DIRECTION)
    word = row.text("on") or "place"
    if word not in list(Feature):
        faults.add(row.shown, row.line, f"{name}, on", f"came '{word}'", ", ".join(Feature))
    if len(faults) > before:
        return None
    if shown is None and tip is None:
        came = "has neither joint values nor the tip's place"
        faults.add(row.shown, row.line, name, came, "one of them")
        return None
    feature = Feature(word)
    if feature is not Feature.PLACE and (direction is None or not np.linalg.norm(direction) > 0):
        what = "along the edge" if feature is Feature.EDGE else "square to the face"
        faults.add(row.shown, row.line, name, "has no direction", f"nx, ny, nz: {what}")
        return None
    return TouchRow(name, row.line, shown, tip, drawn, feature, direction, row.text("touches"))

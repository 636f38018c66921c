"""Rows of a points file put in or changed, everything else kept as it was typed."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path

from pathsim.arm import Arm
from pathsim.errors import CannotCheck
from pathsim.files.faults import FaultList
from pathsim.files.points_header import Column, PointsForm, read_header
from pathsim.files.posture_columns import as_written
from pathsim.files.value_table import is_blank, open_table
from pathsim.transforms import Array

#: Decimals of a written value: 0.0001 deg is 2 micrometres at a metre.
_DECIMALS = 4


def with_points(path: Path, form: PointsForm, arm: Arm, points: Mapping[str, Array]) -> bytes:
    """Return the file with points at axes ``(axes,)``: known names changed, new ones added.

    A changed row keeps its note; a pose beside the old joint values is taken out, as it would
    contradict the new ones, and posture and rough joint values are those of the new ones. A file
    of poses gets columns for joint values, since these alone say every whole turn. Raises
    CannotCheck when its header cannot be read.
    """
    raw = path.read_bytes()
    text = raw.decode("utf-8-sig")
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = text.replace("\r\n", "\n").rstrip("\n").split("\n")
    _, separator = open_table(text)
    columns, width = _header(lines, separator, form, path)
    if any(name not in columns for name in form.names):
        lines = _with_joint_columns(lines, separator, form, columns, width)
        columns, width = _header(lines, separator, form, path)
    waiting = dict(points)
    for index, line in enumerate(lines):
        cells = _cells(line, separator)
        if is_blank(cells) or len(cells) <= columns["name"].index:
            continue
        name = cells[columns["name"].index].strip()
        if name in waiting:
            note = cells[columns["note"].index] if _has(cells, columns) else ""
            lines[index] = _row(name, waiting.pop(name), columns, width, form, arm, separator, note)
    for name, q in waiting.items():
        lines.append(_row(name, q, columns, width, form, arm, separator, ""))
    mark = b"\xef\xbb\xbf" if raw.startswith(b"\xef\xbb\xbf") else b""
    return mark + (newline.join(lines) + newline).encode()


def _header(
    lines: list[str], separator: str, form: PointsForm, path: Path
) -> tuple[dict[str, Column], int]:
    for line in lines:
        cells = _cells(line, separator)
        if is_blank(cells):
            continue
        columns = read_header(cells, 1, path.name, form, FaultList())
        if columns is None:
            break
        return columns, len(cells)
    raise CannotCheck(
        f"{path.name} has no header that can be read, so the new points cannot be written into it"
    )


def _with_joint_columns(
    lines: list[str], separator: str, form: PointsForm, columns: Mapping[str, Column], width: int
) -> list[str]:
    """Return the lines with columns for the axes that have none; comments stay as they are."""
    units = {"angle": "deg", "length": "mm"}
    added = [f"{name} {units[kind]}" for name, kind in form.axes if name not in columns]
    result, is_header = [], True
    for line in lines:
        cells = _cells(line, separator)
        if is_blank(cells):
            result.append(line)
            continue
        cells += [""] * (width - len(cells))
        result.append(_line(cells + (added if is_header else [""] * len(added)), separator))
        is_header = False
    return result


def _has(cells: list[str], columns: dict[str, Column]) -> bool:
    return "note" in columns and columns["note"].index < len(cells)


def _cells(line: str, separator: str) -> list[str]:
    return next(csv.reader([line], delimiter=separator), [])


def _row(
    name: str,
    q: Array,
    columns: dict[str, Column],
    width: int,
    form: PointsForm,
    arm: Arm,
    separator: str,
    note: str,
) -> str:
    """Return one row of text; readings are what the display shows."""
    cells = [""] * width
    cells[columns["name"].index] = name
    if "note" in columns:
        cells[columns["note"].index] = note
    shown = [*arm.readings.shown(q[: arm.dof]), *q[arm.dof :]]
    for axis, value in zip(form.names, shown, strict=True):
        text = f"{value / columns[axis].scale:.{_DECIMALS}f}"
        cells[columns[axis].index] = text.replace(".", ",") if separator == ";" else text
    for column, text in as_written(columns, form, arm, q[: arm.dof]).items():
        cells[columns[column].index] = text.replace(".", ",") if separator == ";" else text
    return _line(cells, separator)


def _line(cells: list[str], separator: str) -> str:
    stream = io.StringIO()
    csv.writer(stream, delimiter=separator, lineterminator="").writerow(cells)
    return stream.getvalue()

"""A table of points as a spreadsheet or a listing holds it: which of its columns is which."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.points_header import Column, PointsForm, read_header
from pathsim.files.value_table import has_decimal_commas, open_table

#: Words for separators that a person would not type as such.
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "space": " "}
DECIMALS = {"comma": ",", "point": "."}


@dataclass(frozen=True)
class TableLayout:
    """``columns``: our heading (``j1 deg``) to the table's own, or to its number from 1.

    Without ``columns`` the table has our headings. ``separator`` and ``decimal`` as in
    ``SEPARATORS``, ``DECIMALS``; None: told from the file.
    """

    columns: Mapping[str, str | int] = field(default_factory=dict)
    separator: str | None = None
    decimal: str | None = None

    @property
    def has_own_columns(self) -> bool:
        """Tell whether the table's columns are named by the cell."""
        return bool(self.columns)


class TableRows:
    """Rows of a table with the line each ends at, and how its numbers are written."""

    def __init__(self, text: str, layout: TableLayout) -> None:
        said = layout.separator
        if said is None:
            self._rows, self.separator = open_table(text)
        else:
            self.separator = SEPARATORS[said]
            plain = io.StringIO(text.replace("\r\n", "\n").replace("\r", "\n"))
            self._rows = csv.reader(
                plain, delimiter=self.separator, skipinitialspace=said == "space"
            )
        self.decimal_comma = (
            self.separator == ";" if layout.decimal is None else layout.decimal == "comma"
        )
        self.is_comma_only = self.decimal_comma and has_decimal_commas(text, self.separator)
        self._squeezed = said == "space"

    @property
    def line(self) -> int:
        """Line of the file at which the last row ended."""
        return int(self._rows.line_num)

    def __iter__(self) -> Iterator[list[str]]:
        for cells in self._rows:
            yield [cell for cell in cells if cell.strip()] if self._squeezed else cells


def own_columns(
    cells: list[str], line: int, shown: str, layout: TableLayout, form: PointsForm,
    faults: FaultList,
) -> dict[str, Column] | None:  # fmt: skip
    """Columns of a table whose headings stand in ``cells``; None after a fault."""
    places: list[int] = []
    for ours, theirs in layout.columns.items():
        place = _place(theirs, cells)
        if place is None:
            rule = f"the heading of '{ours}', as the cell's 'points' says"
            cure = did_you_mean(str(theirs), [cell.strip() for cell in cells if cell.strip()])
            faults.add(shown, line, "", f"no column '{theirs}' came", rule, cure)
            return None
        places.append(place)
    columns = read_header(list(layout.columns), line, shown, form, faults)
    if columns is None:
        return None
    return {name: replace(one, index=places[one.index]) for name, one in columns.items()}


def is_heading(cells: list[str], layout: TableLayout) -> bool:
    """Tell whether a row holds every heading that is named: titles may stand above it."""
    return all(
        _place(theirs, cells) is not None
        for theirs in layout.columns.values()
        if isinstance(theirs, str)
    )


def has_headings(layout: TableLayout) -> bool:
    """Tell whether any column is named by its heading; else all rows hold points."""
    return any(isinstance(theirs, str) for theirs in layout.columns.values())


def _place(theirs: str | int, cells: list[str]) -> int | None:
    if isinstance(theirs, int):
        return theirs - 1
    wanted = " ".join(theirs.split()).casefold()
    found = [k for k, cell in enumerate(cells) if " ".join(cell.split()).casefold() == wanted]
    return found[0] if len(found) == 1 else None

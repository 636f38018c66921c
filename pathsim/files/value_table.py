"""Tables of values as text: commas, semicolons (then decimal commas) or tabs."""

from __future__ import annotations

import csv
import io
from typing import Any


def open_table(text: str) -> tuple[Any, str]:
    """Return a reader of rows and the separator, told from the first line that is no comment."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = (line for line in text.split("\n") if line.strip() and line.lstrip()[0] != "#")
    separator = max(",;\t", key=next(lines, "").count)
    return csv.reader(io.StringIO(text), delimiter=separator), separator


def is_blank(cells: list[str]) -> bool:
    """Tell whether a row holds nothing, or is a comment."""
    return not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#")

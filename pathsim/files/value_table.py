"""Tables of values as text: commas, semicolons (then decimal commas) or tabs."""

from __future__ import annotations

import codecs
import csv
import io
import re
from typing import Any

#: A first line that some spreadsheets write, and the separator behind it.
_SAYS = "sep="
_DECIMAL_COMMA = re.compile(r"(?:^|;)\s*[+-]?\d+,\d+\s*(?:;|$)")


def open_table(text: str) -> tuple[Any, str]:
    """Return a reader of rows and the separator, told from the first line that is no comment."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = (line for line in text.split("\n") if line.strip() and line.lstrip()[0] != "#")
    first = next(lines, "")
    separator = max(",;\t", key=first.count)
    if first.startswith(_SAYS) and first[len(_SAYS) :].strip() in (",", ";", ""):
        separator = first[len(_SAYS) :].strip() or "\t"
    return csv.reader(io.StringIO(text), delimiter=separator), separator


def is_blank(cells: list[str]) -> bool:
    """Tell whether a row holds nothing, is a comment, or says the separator as spreadsheets do."""
    return not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith(("#", _SAYS))


def has_decimal_commas(text: str, separator: str) -> bool:
    """Tell whether numbers are written with a comma: a point in one is then no decimal point."""
    lines = (line for line in text.splitlines() if not line.lstrip().startswith("#"))
    return separator == ";" and any(_DECIMAL_COMMA.search(line) for line in lines)


def no_text(raw: bytes, error: UnicodeDecodeError) -> tuple[int, str, str]:
    """Return the line of what is no UTF-8 text, what it is, and the cure."""
    line = raw[: error.start].count(b"\n") + 1
    is_wide = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    came = "the file is UTF-16 text" if is_wide else "the line has a letter that is not UTF-8 text"
    return line, came, "Save the table as 'CSV UTF-8' (in a spreadsheet: save as)."

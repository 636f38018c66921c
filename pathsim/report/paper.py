"""What paper asks for: its size, and numbers that stay with their units."""

from __future__ import annotations

import re
from enum import StrEnum
from html import escape as html_escape

_INCH = 72.0
_MM = _INCH / 25.4
_UNIT = re.compile(r"(\d) (?=(?:%|mm|s|deg)(?![\w]))")


def with_units_kept(text: str) -> str:
    """Return text in which no line can end between a number and its unit."""
    return _UNIT.sub("\\1\N{NO-BREAK SPACE}", text)


def escape(text: str) -> str:
    """Return text for a page of HTML; no line ends between a number and its unit."""
    return html_escape(with_units_kept(text))


class Paper(StrEnum):
    """What a sheet is printed on."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def css(self) -> str:
        """Its name in a page's style."""
        return {"a4": "A4", "letter": "letter"}[self.value]

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in points: ISO 216, and ANSI/ASME Y14.1 size A."""
        return {"a4": (210 * _MM, 297 * _MM), "letter": (8.5 * _INCH, 11 * _INCH)}[self.value]

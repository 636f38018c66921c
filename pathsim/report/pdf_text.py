"""Type for the sheet's PDF: fonts, styles, lists, and characters that the fonts lack."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import groupby
from pathlib import Path
from typing import Any
from unicodedata import normalize
from xml.sax.saxutils import escape

import reportlab
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph

from pathsim.report.paper import with_units_kept
from pathsim.report.sheet_records import Line

PLAIN, BOLD = "SheetPlain", "SheetBold"
#: The smallest type on paper, pt: read at arm's length beside the cell.
LEAST = 7.5
#: A sheet is set in a dozen ways until it fits: so many texts are kept from one to the next.
_TEXTS = 4096


@dataclass(frozen=True)
class Setting:
    """One way to set a sheet: type, width of a still and of a line (pt), how close rows are.

    ``is_parted``: what the check rests on begins a page.
    """

    size: float
    still: float
    is_tight: bool
    width: float
    is_parted: bool = False


def style(*, size: float, bold: bool = False, right: bool = False) -> ParagraphStyle:
    """Return the style of a paragraph."""
    return ParagraphStyle(
        "text", fontName=BOLD if bold else PLAIN, fontSize=size, leading=size * 1.2,
        alignment=2 if right else 0, splitLongWords=1,
    )  # fmt: skip


def tight(setting: Setting) -> list[tuple[Any, ...]]:
    """Return a table's style with little room round its cells, less in small type."""
    pad = 0.0 if setting.is_tight else max(setting.size - 6.0, 0.5) * 0.7
    whole = ((0, 0), (-1, -1))
    return [("VALIGN", *whole, "TOP"), ("LEFTPADDING", *whole, 2), ("RIGHTPADDING", *whole, 4),
            ("TOPPADDING", *whole, pad), ("BOTTOMPADDING", *whole, pad + 0.8)]  # fmt: skip


def heading(text: str, size: float) -> Paragraph:
    """Return a heading that stays with what follows it."""
    made = style(size=size, bold=True)
    made.spaceBefore, made.spaceAfter, made.keepWithNext = 3, 0.5, 1
    return Paragraph(safe(text), made)


def listed(items: Iterable[str | Line], size: float) -> list[Paragraph]:
    """Return a list with hanging bullets; the lead of a line is bold."""
    hanging = style(size=size)
    hanging.leftIndent, hanging.firstLineIndent = size * 0.9, -size * 0.9
    return [Paragraph("\N{BULLET} " + marked(item), hanging) for item in items]


def marked(item: str | Line) -> str:
    """Return a line for a paragraph, its lead in bold."""
    if isinstance(item, str):
        return safe(item)
    lead = f'<font name="{BOLD}">{safe(item.lead)}:</font> ' if item.lead else ""
    return lead + safe(item.text)


@cache
def ready_fonts() -> TTFont:
    """Register the fonts that come with the library (Bitstream Vera, free to embed)."""
    folder = Path(reportlab.__file__).parent / "fonts"
    plain = _Font(PLAIN, str(folder / "Vera.ttf"))
    pdfmetrics.registerFont(plain)
    pdfmetrics.registerFont(_Font(BOLD, str(folder / "VeraBd.ttf")))
    return plain


class _Font(TTFont):  # type: ignore[misc]
    """A font that knows again how wide a word is."""

    def __init__(self, name: str, file: str) -> None:
        super().__init__(name, file)
        self._widths: dict[tuple[str, float], float] = {}

    def stringWidth(self, text: str, size: float, encoding: str = "utf8") -> float:  # noqa: N802
        """Return the width of text in type of a size, pt."""
        known = self._widths.get((text, size))
        if known is None:
            if len(self._widths) >= _TEXTS:
                self._widths.clear()
            known = self._widths[text, size] = super().stringWidth(text, size, encoding)
        return known


@lru_cache(maxsize=_TEXTS)
def shown(text: str) -> str:
    """Return text as the fonts can show it: characters that they lack stand as codes."""
    known = ready_fonts().face.charToGlyph
    text = normalize("NFC", text)  # letters with their marks as one, as fonts have them
    parts = []
    for is_known, letters in groupby(text, lambda c: ord(c) in known or c in "\n\t"):
        run = "".join(letters)
        parts.append(run if is_known else f"[U+{' '.join(f'{ord(c):04X}' for c in run)}]")
    return "".join(parts)


@lru_cache(maxsize=_TEXTS)
def safe(text: str) -> str:
    """Return text for a paragraph: as it can be shown, and escaped; no line ends before a unit."""
    return escape(with_units_kept(shown(text)))


@lru_cache(maxsize=_TEXTS)
def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of text on one line, pt."""
    return float(pdfmetrics.stringWidth(shown(text), BOLD if bold else PLAIN, size))

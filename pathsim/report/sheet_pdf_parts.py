"""The parts of the sheet's PDF: head, moves, moments, boxes, signature."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from reportlab.lib import colors
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Image, Paragraph, Table

from pathsim.report.pdf_text import (
    LEAST,
    PLAIN,
    Setting,
    heading,
    marked,
    safe,
    style,
    tight,
    width_of,
)
from pathsim.report.sheet_records import Line, Moment, SheetContent

_LINE = colors.Color(0.6, 0.6, 0.6)
_WAY, _TO = 2, 8  # columns that may wrap
_SECONDS, _CLEAR = 4, 6
_ON_RIGHT = {0, 3, 4, 5, 6, 7}
_LEFT, _RIGHT = 1.0, 3.0  # pt, round what stands in a column of the table of moves
_PADDING = _LEFT + _RIGHT + 0.8


def header(content: SheetContent, setting: Setting, width: float) -> Table:
    """Return the title beside what must be equal between sheet and cell."""
    small = style(size=LEAST, right=True)
    left = [
        Paragraph("FIRST-RUN SHEET", style(size=LEAST)),
        Paragraph(safe(content.title), style(size=15, bold=True)),
    ]
    lines = (content.files, content.date, f"sha256 {content.fingerprint}")
    right = [Paragraph(safe(line), small) for line in lines]
    table = Table([[left, right]], [width * 0.48, width * 0.52])
    table.setStyle([*tight(setting), ("LINEBELOW", (0, 0), (-1, -1), 1.5, colors.black),
                    ("BOTTOMPADDING", (0, 0), (-1, -1), 4)])  # fmt: skip
    return table


def moves(content: SheetContent, setting: Setting, width: float) -> Table:
    """Return the table of moves; columns of numbers take no more room than they need."""
    size = setting.size
    names = ("", "move", "from > to", "speed", content.seconds_head, "tip mm/s",
             "guaranteed clearance", "at %", "nearest", "seen mm")  # fmt: skip
    rows = [
        (r.mark, r.kind, r.way, r.speed, r.seconds, r.tip, r.clear_by, r.at, r.to, "")
        for r in content.rows
    ]
    body = [[_cell(name, k, size, bold=True) for k, name in enumerate(names)]]
    body += [
        [
            _cell(text, k, size, bold=(k == 0 and row.is_near) or (k == _CLEAR and bool(row.level)))
            for k, text in enumerate(texts)
        ]
        for row, texts in zip(content.rows, rows, strict=True)
    ]
    table = Table(body, _widths(names, rows, size, width), repeatRows=1)
    whole = ((0, 0), (-1, -1))
    table.setStyle([*tight(setting), ("LINEBELOW", *whole, 0.4, _LINE),
                    ("LEFTPADDING", *whole, _LEFT), ("RIGHTPADDING", *whole, _RIGHT),
                    ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
                    ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black)])  # fmt: skip
    return table


def _cell(text: str, column: int, size: float, *, bold: bool) -> Paragraph:
    return Paragraph(safe(text), style(size=size, bold=bold, right=column in _ON_RIGHT))


def _widths(
    names: Sequence[str], rows: Sequence[Sequence[str]], size: float, width: float
) -> list[float]:
    """Return column widths: what numbers need, and the rest by need to the columns of words."""
    need = []
    for column, name in enumerate(names):
        # the override stays on one line with its unit
        words = name.split(maxsplit=2)[1:] if column == _SECONDS else name.split()
        heads = [width_of(word, size, bold=True) for word in words]
        texts = [width_of(row[column], size, bold=column in (0, _CLEAR)) for row in rows]
        need.append(max([*heads, *texts], default=0.0) + _PADDING)
    rest = width - sum(n for k, n in enumerate(need) if k not in (_WAY, _TO))
    both = need[_WAY] + need[_TO]
    share = min(max(need[_WAY] / both, 0.35), 0.65)
    if need[_TO] <= rest * 0.65 and need[_WAY] > rest - need[_TO]:
        share = 1 - need[_TO] / rest  # one line for what is nearest, the rest for the way
    need[_WAY], need[_TO] = rest * share, rest * (1 - share)
    return need


def moments(
    content: SheetContent, setting: Setting, width: float, beside: Sequence[Any]
) -> list[Any]:
    """Return the moments with their stills side by side, and what to know of them.

    ``beside``: what stands at their right.
    """
    size = setting.size
    title = content.moments_title
    notes = [
        Paragraph(safe(note), style(size=size))
        for note in (content.moments_note, content.no_stills) if note
    ]  # fmt: skip
    if not content.moments:
        return [heading(title, size), *notes]
    count = 3 + bool(beside)
    column = width / count
    still = min(setting.still, column - 3 * mm)
    cells = [_moment(moment, size, still) for moment in content.moments]
    cells += [[] for _ in range(3 - len(cells))] + ([list(beside)] if beside else [])
    table = Table([cells], [column] * count)
    table.setStyle([*tight(setting), ("LEFTPADDING", (0, 0), (-1, -1), 0),
                    ("RIGHTPADDING", (0, 0), (-1, -1), 8)])  # fmt: skip
    return [heading(title, size), *notes, table]


def _moment(moment: Moment, size: float, width: float) -> list[Any]:
    parts: list[Any] = []
    if moment.still is not None:
        across, down = ImageReader(io.BytesIO(moment.still)).getSize()
        image = Image(io.BytesIO(moment.still), width, width * down / across, lazy=2)
        image.hAlign = "LEFT"
        parts.append(image)
    what = Line(moment.level, f"{moment.what} Watch {moment.side}.")
    parts.append(Paragraph(safe(f"{moment.number}. {moment.when}"), style(size=size, bold=True)))
    parts.append(Paragraph(marked(what), style(size=size)))
    return parts


def boxes(texts: Sequence[str], setting: Setting, width: float) -> list[Table]:
    """Return lines to tick."""
    size = setting.size
    made = []
    for text in texts:
        square = Table([[""]], [size * 0.9], [size * 0.9])
        square.setStyle([("BOX", (0, 0), (-1, -1), 0.8, colors.black)])
        line = Paragraph(safe(text), style(size=size))
        table = Table([[square, line]], [size + 6, width - size - 14])
        table.setStyle(tight(setting))
        made.append(table)
    return made


def signature(width: float) -> Table:
    """Return lines to sign on, with room between them to write above."""
    shares = (0.3, 0.03, 0.37, 0.03, 0.27)
    table = Table([["Name", "", "Signature", "", "Date, time"]], [width * s for s in shares],
                  [9.5 * mm])  # fmt: skip
    under = [("LINEBELOW", (k, 0), (k, 0), 0.8, colors.black) for k in (0, 2, 4)]
    table.setStyle([("FONT", (0, 0), (-1, -1), PLAIN, LEAST),
                    ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
                    ("LEFTPADDING", (0, 0), (-1, -1), 0), *under])  # fmt: skip
    return table

"""The first-run sheet as a PDF of A4 pages in grey: one for most programs, never cut."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path
from typing import Any
from unicodedata import normalize
from xml.sax.saxutils import escape

import reportlab
from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Image, Paragraph, SimpleDocTemplate, Spacer, Table

from pathsim.report.sheet_content import Moment, Row, SheetContent

#: Sizes of type tried, pt: the largest that fits on one page, never below the last.
SIZES = (9.0, 8.5, 8.0, 7.5, 7.0, 6.5)
_PLAIN, _BOLD = "SheetPlain", "SheetBold"
_MARGIN = 12 * mm
_WIDTH = A4[0] - 2 * _MARGIN
_FOOT = 13 * mm
_LINE = colors.Color(0.6, 0.6, 0.6)
_COLUMNS = (0.055, 0.075, 0.24, 0.095, 0.075, 0.145, 0.075, 0.24)


def sheet_as_pdf(content: SheetContent) -> bytes:
    """Return the sheet as large as it fits on one page, or on more in the smallest type."""
    _fonts()
    for size in SIZES:
        raw, pages = _set(content, size, 0)
        if pages == 1:
            return raw
    return _set(content, SIZES[-1], pages)[0]


def _set(content: SheetContent, size: float, pages: int) -> tuple[bytes, int]:
    """Set the sheet in one size; ``pages``: how many there are, where that is to be said."""
    buffer = io.BytesIO()
    document = SimpleDocTemplate(
        buffer, pagesize=A4, leftMargin=_MARGIN, rightMargin=_MARGIN, topMargin=_MARGIN,
        bottomMargin=_MARGIN + _FOOT, title=f"First-run sheet: {content.title}",
        author="pathsim", invariant=1,
    )  # fmt: skip

    def foot(canvas: Any, page: Any) -> None:
        style = _style(size=min(size, 7.5))
        text = Paragraph(_safe(content.caution), style)
        _, height = text.wrap(_WIDTH, _FOOT)
        canvas.setLineWidth(0.8)
        canvas.line(_MARGIN, _MARGIN + _FOOT - 2, A4[0] - _MARGIN, _MARGIN + _FOOT - 2)
        text.drawOn(canvas, _MARGIN, _MARGIN + _FOOT - 4 - height)
        if pages:
            canvas.setFont(_PLAIN, 7)
            said = f"{page.page} of {pages}, {content.fingerprint[:16]}"
            canvas.drawRightString(A4[0] - _MARGIN, _MARGIN - 6, f"page {said}")

    document.build(_story(content, size), onFirstPage=foot, onLaterPages=foot)
    return buffer.getvalue(), document.page


def _story(content: SheetContent, size: float) -> list[Any]:
    wide = 12 if content.is_stop else size + 1
    verdict = Table([[Paragraph(_safe(content.verdict), _style(size=wide, bold=True))]], [_WIDTH])
    verdict.setStyle([("BOX", (0, 0), (-1, -1), 2.5 if content.is_stop else 0.8, colors.black)])
    return [
        _header(content, size),
        Spacer(1, 2 * mm),
        verdict,
        Spacer(1, 1 * mm),
        Paragraph(_safe(content.totals + "."), _style(size=size)),
        Spacer(1, 1.5 * mm),
        _moves(content.rows, size),
        _heading("Stand by the stop", size),
        *_moments(content, size),
        _columns(content, size),
    ]


def _header(content: SheetContent, size: float) -> Table:
    small = _style(size=6.5, right=True)
    left = [
        Paragraph("FIRST-RUN SHEET", _style(size=7)),
        Paragraph(_safe(content.title), _style(size=16, bold=True)),
    ]
    lines = (content.files, content.date, f"sha256 {content.fingerprint}")
    right = [Paragraph(_safe(line), small) for line in lines]
    table = Table([[left, right]], [_WIDTH * 0.5, _WIDTH * 0.5])
    table.setStyle([*_tight(size), ("LINEBELOW", (0, 0), (-1, -1), 1.5, colors.black),
                    ("BOTTOMPADDING", (0, 0), (-1, -1), 4)])  # fmt: skip
    return table


def _moves(rows: tuple[Row, ...], size: float) -> Table:
    plain, right = _style(size=size), _style(size=size, right=True)
    bold, bold_right = _style(size=size, bold=True), _style(size=size, bold=True, right=True)
    names = ("", "move", "from > to", "speed", "s, slow", "guaranteed clear by", "at", "nearest")
    on_right = {0, 3, 4, 5, 6}
    body = [[Paragraph(_safe(name), bold_right if k in on_right else bold)
             for k, name in enumerate(names)]]  # fmt: skip
    for row in rows:
        mark = "\N{RIGHT-POINTING DOUBLE ANGLE QUOTATION MARK} " if row.is_near else ""
        texts = (mark + row.number, row.kind, row.way, row.speed, row.seconds, row.clear_by,
                 row.at, row.to)  # fmt: skip
        body.append(
            [
                Paragraph(
                    _safe(text),
                    (bold_right if row.is_near and k == 0 else right) if k in on_right else plain,
                )
                for k, text in enumerate(texts)
            ]
        )
    table = Table(body, [_WIDTH * share for share in _COLUMNS], repeatRows=1)
    table.setStyle([*_tight(size), ("LINEBELOW", (0, 0), (-1, -1), 0.4, _LINE),
                    ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black)])  # fmt: skip
    return table


def _moments(content: SheetContent, size: float) -> list[Any]:
    if not content.moments:
        return [Paragraph("No moment is nearer than another.", _style(size=size))]
    width = _WIDTH / 3
    cells = [_moment(moment, size, width - 3 * mm) for moment in content.moments]
    cells += [[] for _ in range(3 - len(cells))]
    table = Table([cells], [width] * 3)
    table.setStyle(_tight(size))
    note = [Paragraph(_safe(content.no_stills), _style(size=size))] if content.no_stills else []
    return [*note, table]


def _moment(moment: Moment, size: float, width: float) -> list[Any]:
    parts: list[Any] = []
    if moment.still is not None:
        across, down = ImageReader(io.BytesIO(moment.still)).getSize()
        parts.append(Image(io.BytesIO(moment.still), width, width * down / across))
    parts.append(Paragraph(_safe(f"{moment.number}. {moment.when}"), _style(size=size, bold=True)))
    parts.append(Paragraph(_safe(moment.what), _style(size=size)))
    parts.append(Paragraph(_safe(f"Watch {moment.side}."), _style(size=size)))
    return parts


def _columns(content: SheetContent, size: float) -> Any:
    """Two columns; as flowing rows where they would not fit on a page side by side."""
    left: list[Any] = []
    for title, items in (
        (content.findings_title, content.findings),
        ("Wrist zones", content.wrist),
        ("The model does not know", content.unknown),
        ("How far a body may be off", content.placement),
    ):
        if items:
            left.append(_heading(title, size))
            left += [Paragraph("\N{BULLET} " + _safe(item), _hanging(size)) for item in items]
    right: list[Any] = [_heading("Files that must be equal", size)]
    right.append(Paragraph(_safe(content.all_files), _style(size=max(size - 1.5, 6.5))))
    right += [_heading("Before and during the first run", size)]
    right += [_box(text, size) for text in content.boxes]
    lines = Table([["Name", "Signature", "Date, time"]], [_WIDTH * 0.16] * 3, [9 * mm])
    under = [("LINEBELOW", (k, 0), (k, 0), 0.8, colors.black) for k in range(3)]
    bottom = ("VALIGN", (0, 0), (-1, -1), "BOTTOM")
    lines.setStyle([("FONT", (0, 0), (-1, -1), _PLAIN, 7), bottom, *under])
    right.append(lines)
    rows = [[left, right]]
    table = Table(rows, [_WIDTH * 0.51, _WIDTH * 0.49], splitInRow=1)
    table.setStyle(_tight(size))
    return table


def _box(text: str, size: float) -> Table:
    square = Table([[""]], [size], [size])
    square.setStyle([("BOX", (0, 0), (-1, -1), 0.8, colors.black)])
    table = Table([[square, Paragraph(_safe(text), _style(size=size))]],
                  [size + 6, _WIDTH * 0.49 - size - 14])  # fmt: skip
    table.setStyle(_tight(size))
    return table


def _heading(text: str, size: float) -> Paragraph:
    style = _style(size=size, bold=True)
    style.spaceBefore, style.spaceAfter = 3, 1
    return Paragraph(_safe(text), style)


def _tight(size: float) -> list[tuple[Any, ...]]:
    """Little room round cells, less in small type."""
    pad = max(size - 6.0, 0.5) * 0.7
    whole = ((0, 0), (-1, -1))
    return [("VALIGN", *whole, "TOP"), ("LEFTPADDING", *whole, 2), ("RIGHTPADDING", *whole, 4),
            ("TOPPADDING", *whole, pad), ("BOTTOMPADDING", *whole, pad + 0.5)]  # fmt: skip


def _style(*, size: float, bold: bool = False, right: bool = False) -> ParagraphStyle:
    return ParagraphStyle(
        "text", fontName=_BOLD if bold else _PLAIN, fontSize=size, leading=size * 1.22,
        alignment=2 if right else 0, splitLongWords=1,
    )  # fmt: skip


def _hanging(size: float) -> ParagraphStyle:
    style = _style(size=size)
    style.leftIndent, style.firstLineIndent = size, -size * 0.8
    return style


@cache
def _fonts() -> TTFont:
    """Register the fonts that come with the library (Bitstream Vera, free to embed)."""
    folder = Path(reportlab.__file__).parent / "fonts"
    plain = TTFont(_PLAIN, str(folder / "Vera.ttf"))
    pdfmetrics.registerFont(plain)
    pdfmetrics.registerFont(TTFont(_BOLD, str(folder / "VeraBd.ttf")))
    return plain


def _safe(text: str) -> str:
    """Return text for a paragraph: escaped; characters the font lacks are shown as codes."""
    known = _fonts().face.charToGlyph
    text = normalize("NFC", text)  # letters with their marks as one, as fonts have them
    shown = "".join(c if ord(c) in known or c in "\n\t" else f"[U+{ord(c):04X}]" for c in text)
    return escape(shown)

"""More parts of the sheet's PDF: labels, points, plan, remarks."""

from __future__ import annotations

from typing import Any

from reportlab.graphics.shapes import Circle, Drawing, Polygon, PolyLine, Rect, String
from reportlab.lib import colors
from reportlab.lib.units import mm
from reportlab.platypus import Paragraph, Spacer, Table

from pathsim.report.pdf_text import (
    BOLD,
    LEAST,
    PLAIN,
    Setting,
    heading,
    listed,
    safe,
    style,
    tight,
    width_of,
)
from pathsim.report.plan_records import Plan
from pathsim.report.sheet_records import PLAN, POINTS, REMARK_LINES, REMARKS, SheetContent

_LINE = colors.Color(0.6, 0.6, 0.6)
#: Width of the plan at most.
_WIDEST = 60 * mm
_NAME = 0.2  # share of the page for the names of points


def labels(content: SheetContent, size: float) -> list[Any]:
    """Return program, part, job and revision in a line."""
    said = "&nbsp;&nbsp;&nbsp; ".join(
        f'{word}: <font name="{BOLD}">{safe(text)}</font>' for word, text in content.labels
    )
    return [Spacer(1, 1 * mm), Paragraph(said, style(size=size))] if said else []


def points(content: SheetContent, setting: Setting, width: float) -> list[Any]:
    """Return the table of points."""
    if not content.points:
        return []
    size = max(setting.size - 0.5, LEAST)
    heads = ("point", *content.points_heads)
    body = [[Paragraph(safe(head), style(size=size, bold=True, right=k > 0))
             for k, head in enumerate(heads)]]  # fmt: skip
    body += [
        [
            Paragraph(safe(text), style(size=size, right=k > 0))
            for k, text in enumerate((point.mark, *point.values))
        ]
        for point in content.points
    ]
    rest = width * (1 - _NAME) / len(content.points_heads)
    table = Table(body, [width * _NAME, *([rest] * len(content.points_heads))], repeatRows=1)
    whole = ((0, 0), (-1, -1))
    table.setStyle([*tight(setting), ("LINEBELOW", *whole, 0.3, _LINE), ("TOPPADDING", *whole, 0.6),
                    ("LEFTPADDING", *whole, 1), ("RIGHTPADDING", *whole, 3),
                    ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black)])  # fmt: skip
    return [heading(POINTS, setting.size), table]


def plan(content: SheetContent, setting: Setting, width: float) -> list[Any]:
    """Return the small plan, with what it is below."""
    if content.plan is None:
        return []
    drawing = _drawing(content.plan, min(width - 3 * mm, _WIDEST))
    return [drawing, Paragraph(safe(PLAN), style(size=setting.size, bold=True))]


def remarks(content: SheetContent, setting: Setting, half: float) -> list[Any]:
    """Return what the cell says, and lines to write on."""
    high = (4.5 if setting.is_tight else 6) * mm
    line = Table([[""]] * REMARK_LINES, [half * 0.97], [high] * REMARK_LINES)
    line.setStyle([("LINEBELOW", (0, 0), (-1, -1), 0.4, _LINE)])
    said = listed(content.remarks, setting.size)
    return [heading(REMARKS, setting.size), *said, line]


def _drawing(plan: Plan, width: float) -> Drawing:
    drawing, size = Drawing(width, plan.height * width), LEAST
    for outline, grey in plan.areas:
        flat = [v * width for place in outline for v in place]
        drawing.add(Polygon(flat, fillColor=colors.Color(grey, grey, grey), strokeColor=_LINE,
                            strokeWidth=0.4))  # fmt: skip
    for seam in plan.seams:
        flat = [v * width for place in seam for v in place]
        drawing.add(PolyLine(flat, strokeColor=colors.black, strokeWidth=1.6))
    (x, y), radius = (plan.arm[0][0] * width, plan.arm[0][1] * width), plan.arm[1] * width
    drawing.add(Circle(x, y, radius, fillColor=colors.white, strokeWidth=0.8))
    tip = x + 2 * radius
    for line in ([x, y, tip, y], [tip - 3, y - 2, tip, y, tip - 3, y + 2]):
        drawing.add(PolyLine(line, strokeColor=colors.black, strokeWidth=0.8))
    for word, (a, b) in plan.words_apart(size / width):
        half = width_of(word, size) / 2 + 1
        drawing.add(Rect(a * width - half, b * width - 0.55 * size, 2 * half, 1.1 * size,
                         fillColor=colors.white, strokeColor=None))  # fmt: skip
        drawing.add(_word(word, a * width, b * width, size, PLAIN))
    for number, place in plan.marks_apart(2.2 * size / width):
        a, b = place[0] * width, place[1] * width
        drawing.add(Circle(a, b, 0.8 * size, fillColor=colors.white, strokeWidth=0.8))
        drawing.add(_word(number, a, b, size, BOLD))
    drawing.add(Rect(0, 0, width, plan.height * width, fillColor=None, strokeColor=_LINE,
                     strokeWidth=0.5))  # fmt: skip
    return drawing


def _word(text: str, x: float, y: float, size: float, font: str) -> String:
    return String(x, y - 0.35 * size, text, fontName=font, fontSize=size, textAnchor="middle")

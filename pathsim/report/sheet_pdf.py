"""The first-run sheet as a PDF in grey: one page for most programs, never cut."""

from __future__ import annotations

import contextlib
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from reportlab import rl_config
from reportlab.lib import colors
from reportlab.lib.units import mm
from reportlab.platypus import PageBreak, Paragraph, SimpleDocTemplate, Spacer, Table

from pathsim.report.paper import Paper
from pathsim.report.pdf_text import (
    LEAST,
    PLAIN,
    Setting,
    heading,
    listed,
    ready_fonts,
    safe,
    style,
    tight,
)
from pathsim.report.sheet_pdf_more import labels, plan, points, remarks
from pathsim.report.sheet_pdf_parts import boxes, header, moments, moves, signature
from pathsim.report.sheet_records import ARC_ON, NUMBERS, SEAMS, Line, SheetContent

#: Sizes of type tried, pt: the largest that fits on one page, never below the last.
SIZES = (9.0, 8.5, 8.0, LEAST)
#: Widths of stills tried in each size; type on them stays above the least in the smallest.
STILLS = (61 * mm, 54 * mm, 44 * mm)
_MARGIN = 11 * mm
_FOOT = 10 * mm


def sheet_as_pdf(content: SheetContent, paper: Paper = Paper.A4) -> bytes:
    """Return the sheet as large as it fits on one page, or on as few pages as there must be."""
    ready_fonts()
    width = paper.size[0] - 2 * _MARGIN
    room = paper.size[1] - 2 * _MARGIN - _FOOT - 12  # 12 pt: the frame's own padding
    for setting in _settings(width):
        if _fits(_story(content, setting), setting, room):
            raw, pages = _set(content, paper, setting, 0)
            if pages == 1:
                return raw
    least = Setting(SIZES[-1], STILLS[-1], is_tight=True, width=width)
    _, fewest = _set(content, paper, least, 0)
    for size in SIZES:
        # What is read and ticked at the cell on the first side, what it rests on behind it.
        for is_parted in (True, False):
            setting = Setting(size, STILLS[-1], is_tight=False, width=width, is_parted=is_parted)
            raw, pages = _set(content, paper, setting, fewest)
            if pages == fewest:
                return raw
    return _set(content, paper, least, fewest)[0]


def _settings(width: float) -> Iterator[Setting]:
    """Ways to set a sheet: in each size smaller stills first, then tighter rows."""
    for size in SIZES:
        for still in STILLS:
            yield Setting(size, still, is_tight=False, width=width)
        yield Setting(size, STILLS[-1], is_tight=True, width=width)


def _height(story: list[Any], setting: Setting) -> float:
    """Return how much room flowables take, rather too much than too little."""
    return sum(
        float(part.wrap(setting.width, 1e5)[1] + part.getSpaceBefore() + part.getSpaceAfter())
        for part in story
    )


def _fits(story: Iterable[Any], setting: Setting, room: float) -> bool:
    """Tell whether flowables take no more than ``room``; those behind the last are not made."""
    height = 0.0
    for part in story:
        height += _height([part], setting)
        if height > room:
            return False
    return True


def _set(content: SheetContent, paper: Paper, setting: Setting, pages: int) -> tuple[bytes, int]:
    """Set the sheet in one way; ``pages``: how many there are, where that is to be said."""
    buffer = io.BytesIO()
    document = SimpleDocTemplate(
        buffer, pagesize=paper.size, leftMargin=_MARGIN - 6, rightMargin=_MARGIN - 6,
        topMargin=_MARGIN, bottomMargin=_MARGIN + _FOOT, title=f"First-run sheet: {content.title}",
        author="pathsim", creator="pathsim sheet", invariant=1,
    )  # fmt: skip

    def foot(canvas: Any, page: Any) -> None:
        text = Paragraph(safe(content.caution), style(size=LEAST))
        _, height = text.wrap(setting.width, _FOOT)
        canvas.setLineWidth(0.8)
        canvas.line(_MARGIN, _MARGIN + _FOOT - 4, paper.size[0] - _MARGIN, _MARGIN + _FOOT - 4)
        text.drawOn(canvas, _MARGIN, _MARGIN + _FOOT - 6 - height)
        if pages:
            canvas.setFont(PLAIN, LEAST)
            said = f"{page.page} of {pages}, {content.fingerprint[:16]}"
            canvas.drawRightString(paper.size[0] - _MARGIN, _MARGIN - 6, f"page {said}")

    with _as_bytes():
        document.build(list(_story(content, setting)), onFirstPage=foot, onLaterPages=foot)
    return buffer.getvalue(), document.page


@contextlib.contextmanager
def _as_bytes() -> Iterator[None]:
    """Have pictures and pages written as bytes: as letters they take a fifth more, and longer."""
    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def _story(content: SheetContent, setting: Setting) -> Iterator[Any]:
    """Yield the sheet's parts in their order, each made when it is asked for."""
    size, width = setting.size, setting.width
    wide = 11 if content.is_stop else size + 1
    verdict = Table([[Paragraph(safe(content.verdict), style(size=wide, bold=True))]], [width])
    whole = ((0, 0), (-1, -1))
    verdict.setStyle([("BOX", *whole, 2.5 if content.is_stop else 0.8, colors.black),
                      ("TOPPADDING", *whole, 2), ("BOTTOMPADDING", *whole, 4)])  # fmt: skip
    yield header(content, setting, width)
    yield from labels(content, size)
    yield Spacer(1, 1.5 * mm)
    yield verdict
    yield Spacer(1, 1 * mm)
    yield Paragraph(safe(content.totals + "."), style(size=size))
    yield from (Paragraph(safe(note), style(size=size)) for note in content.notes)
    yield from _list("Doubts about the model", content.doubts, setting)
    yield Spacer(1, 1 * mm)
    yield moves(content, setting, width)
    yield from moments(content, setting, width, plan(content, setting, width / 4))
    yield from _list(content.findings_title, content.findings, setting)
    yield Spacer(1, 1 * mm)
    yield _columns(_to_do(content, setting), setting)
    yield from [signature(width)] if content.boxes else []
    yield from [PageBreak()] if setting.is_parted else []
    yield from _list(NUMBERS, content.numbers, setting)
    yield from points(content, setting, width)
    yield Spacer(1, 1 * mm)
    yield _columns(_background(content, setting), setting)
    yield heading("Files this sheet belongs to", size)
    yield Paragraph(safe(content.all_files), style(size=max(size - 1.5, LEAST)))


def _to_do(content: SheetContent, setting: Setting) -> list[list[Any]]:
    """Return what to tick or to cure, what else to look at, and remarks."""
    return [
        _ticked(content.boxes_title, content.boxes, setting),
        _list(content.boxes_title, content.to_cure, setting),
        _list("Wrist zones", content.wrist, setting),
        _ticked(ARC_ON, content.arc_on, setting),
        remarks(content, setting, setting.width / 2),
    ]


def _background(content: SheetContent, setting: Setting) -> list[list[Any]]:
    """Return what the check rests on."""
    return [
        _list("Torch and process", content.setup, setting),
        _list(SEAMS, content.seams, setting),
        _list("Placement tolerance before contact", content.placement, setting),
        _list("The model does not know", content.unknown, setting),
        [] if content.moments else plan(content, setting, setting.width / 2),
    ]


def _list(title: str, items: Sequence[str | Line], setting: Setting) -> list[Any]:
    """Set a list over the whole width, where most lines take one or two."""
    return [heading(title, setting.size), *listed(items, setting.size)] if items else []


def _ticked(title: str, texts: Sequence[str], setting: Setting) -> list[Any]:
    """Set lines to tick in half the width."""
    return (
        [heading(title, setting.size), *boxes(texts, setting, setting.width / 2)] if texts else []
    )


def _columns(blocks: Sequence[list[Any]], setting: Setting) -> Table:
    """Set blocks in two columns of about one height; they may break over pages anywhere."""
    half = setting.width / 2
    column = replace(setting, width=half - setting.size)
    heights = [_height(block, column) for block in blocks]
    # The cut that leaves the higher column lowest: the order of reading stays.
    cut = min(range(len(blocks) + 1), key=lambda k: max(sum(heights[:k]), sum(heights[k:])))
    sides = [[part for block in some for part in block] for some in (blocks[:cut], blocks[cut:])]
    table = Table([sides], [half, half], splitInRow=1)
    table.setStyle([*tight(setting), ("LEFTPADDING", (0, 0), (0, 0), 0)])
    return table

"""Pages of the sheet: how many, what stands on the first, type that can be read."""

import io
import re
from dataclasses import replace

from pypdf import PdfReader

from pathsim.check import check
from pathsim.files import load_cell
from pathsim.findings.kinds import FindingKind
from pathsim.report.paper import Paper
from pathsim.report.pdf_text import LEAST
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.sheet_pdf import sheet_as_pdf
from pathsim.view.gap_picture import TYPE_SHARE
from tests.report.made_sheets import (
    SAMPLES,
    assert_all_findings_stand,
    flat,
    made,
    moves_in,
    pages_of,
    picture,
    put_together,
)


def lengthened(name, **changes):
    """Return a cell of five moves a round with more rounds."""
    cell = load_cell(SAMPLES / name)
    program = replace(cell.program, moves=(cell.program.moves * 12)[: changes.pop("count")])
    return replace(cell, program=program, **changes)


def test_thirty_moves_stand_on_the_first_page_of_two_at_most():
    calm, hasty = lengthened("gate_hinge", count=26), load_cell(SAMPLES / "gate_hinge_no_retract")
    moves = (*calm.program.moves[:25], *hasty.program.moves, calm.program.moves[0])
    cell = replace(calm, program=replace(calm.program, moves=moves))
    result = check(cell)
    # The program goes round and round only to be long: what is said of that is not looked for here.
    told = tuple(f for f in result.findings if f.kind is not FindingKind.REPEATED)
    result = replace(result, findings=told)
    content = put_together(result, picture())
    assert len(content.rows) == 30 and len(content.moments) == 3
    assert content.findings and len(cell.files) > 10
    raw = sheet_as_pdf(content)
    first, *rest = PdfReader(io.BytesIO(raw)).pages
    assert len(rest) <= 1  # points, plan and remarks take room
    assert sum(len(page.images) for page in (first, *rest)) >= 1  # the same picture is kept once
    assert moves_in(flat(first.extract_text())) == list(range(1, 31))
    text = flat(" ".join(pages_of(raw)))
    assert_all_findings_stand(result, content, text)
    for name in cell.files:
        assert name in text.replace(" ", "")


def test_more_moves_take_several_pages_and_nothing_is_lost():
    result = check(lengthened("gate_hinge", count=60))
    pages = pages_of(sheet_as_pdf(put_together(result, picture())))
    assert 1 < len(pages) <= 3
    assert moves_in(flat(" ".join(pages))) == list(range(1, 61))
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in flat(page)


def sizes_in(raw):
    """Return the sizes of type that a PDF really sets, pt, and the widths of its pictures, pt."""
    sizes, widths = set(), []

    def text(words, matrix, line, _font, size):
        if words.strip():
            sizes.add(round(size * abs(line[3] * matrix[3]), 2))

    def before(operator, _operands, matrix, _line):
        if operator == b"Do":
            widths.append(abs(matrix[0]))

    for page in PdfReader(io.BytesIO(raw)).pages:
        page.extract_text(visitor_text=text, visitor_operand_before=before)
    return sizes, widths


def test_type_on_paper_can_be_read():
    """No type below 7.5 pt, words, plan and pictures alike, on either paper."""
    result, content = made("gate_hinge_no_retract")
    content = put_together(result, picture())
    for paper in Paper:
        sizes, widths = sizes_in(sheet_as_pdf(content, paper))
        assert min(sizes) >= LEAST >= 7.5 and max(sizes) >= 15
        assert len(widths) == 3
        assert TYPE_SHARE * min(widths) >= 7.5
    html = sheet_as_html(content)
    printed = (
        html[html.index("@media print") : html.index("</style>")] + html.split("@page")[1][:200]
    )
    points = [
        float(size) for size in re.findall(r"([\d.]+)pt", printed + html.split("<body")[1][:60])
    ]
    assert len(points) >= 5 and min(points) >= 7.5


def test_html_stands_alone_and_prints_in_grey():
    _, content = made("gate_hinge")
    html = sheet_as_html(content)
    assert "<script" not in html
    assert not re.findall(r"(?:src|href)=\"(?!data:)", html) and "url(" not in html
    colours = re.findall(r"#([0-9a-f]{3})\b", html)
    assert colours and all(len(set(colour)) == 1 for colour in colours)  # greys only
    assert "size: A4" in html

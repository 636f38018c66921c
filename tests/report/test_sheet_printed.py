"""The sheet's page as a browser prints it, beside the PDF: the same sides, in type as large."""

import io
import os
import shutil
import subprocess
from unicodedata import normalize

import pytest
from pypdf import PdfReader

from pathsim.report.explain_page import Explained, ExplainPage, explain_page_as_html
from pathsim.report.paper import Paper
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.sheet_pdf import sheet_as_pdf
from pathsim.report.sheet_records import NUMBERS, POINTS
from tests.report.made_sheets import flat, made, picture, put_together

QUIET = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         "--no-pdf-header-footer")  # fmt: skip


def printed(html, folder):
    """Return the PDF that a browser prints of a page; skip where there is none."""
    browser = os.environ.get("CHROMIUM") or shutil.which("chromium")
    if browser is None:
        pytest.skip("chromium is not installed")
    page, out = folder / "page.html", folder / "page.pdf"
    page.write_text(html, encoding="utf-8")
    subprocess.run(
        [browser, *QUIET, f"--user-data-dir={folder / 'profile'}", f"--print-to-pdf={out}",
         page.as_uri()], check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return out.read_bytes()


def sides_of(raw):
    return [flat(page.extract_text()) for page in PdfReader(io.BytesIO(raw)).pages]


def without_blanks(text):
    """Return letters alone; a browser sets some of them as one."""
    return "".join(normalize("NFKC", text).split())


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("name", ["gate_hinge", "gate_hinge_no_retract"])
def test_both_have_the_same_sides(name, paper, tmp_path):
    result, _ = made(name)
    content = put_together(result, picture())
    pdf = PdfReader(io.BytesIO(sheet_as_pdf(content, paper)))
    raw = printed(sheet_as_html(content, paper), tmp_path)
    html = PdfReader(io.BytesIO(raw))
    assert len(html.pages) == len(pdf.pages)
    for a, b in zip(html.pages, pdf.pages, strict=True):
        assert float(a.mediabox.width) == pytest.approx(float(b.mediabox.width), abs=1.0)
        assert float(a.mediabox.height) == pytest.approx(float(b.mediabox.height), abs=1.0)
    wanted = [content.verdict, *content.boxes, *content.arc_on, *content.to_cure]
    wanted += [f"{row.kind} {row.way}" for row in content.rows]
    for sides in (sides_of(raw), sides_of(sheet_as_pdf(content, paper))):
        first = sides[0]
        # what the check rests on begins the second side, where there is one
        assert without_blanks(POINTS) in without_blanks(sides[-1])
        begins = NUMBERS if content.numbers else POINTS
        assert (without_blanks(begins) in without_blanks(first)) == (len(sides) == 1)
        for words in wanted:
            assert without_blanks(words) in without_blanks(first)


def test_what_is_explained_prints_with_badges_and_little_paper(tmp_path):
    why = ("It came about so: a sentence that takes two lines.",) * 9
    findings = tuple(
        Explained(number, "stop", "The neck touches the left clamp.", "Move 4, at 14 %, 27.3 s",
                  why, picture(), "retract: teach it", (("after", "12 mm"),) * 4,
                  ("It cures 3 other findings too.",) * 6)
        for number in range(1, 6)
    )  # fmt: skip
    page = ExplainPage("Gate hinge", "cell.yaml", "cell.yaml, points.csv", "0" * 64, "2031-01-01",
                       "Found: 5 stop.", True, findings, "", ("Preview of the model.",),
                       "Not checked: cables.")  # fmt: skip
    sides = sides_of(printed(explain_page_as_html(page), tmp_path))
    assert len(sides) <= 4
    for number in range(1, 6):
        assert f"{number} stop" in " ".join(sides)
    style = explain_page_as_html(page).split("@media print")[1]
    assert "background: none" in style and "color: #111" in style  # read without backgrounds

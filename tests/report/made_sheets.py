"""Sheets of sample cells, and their words, for the tests of the sheet."""

import io
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

from PIL import Image
from pypdf import PdfReader

from pathsim.check import check
from pathsim.files import load_cell
from pathsim.report.sheet_content import sheet_content
from pathsim.report.sheet_records import Shown
from pathsim.scene.moments import delicate_moments

SAMPLES = Path(__file__).parents[2] / "sample_cells"


def made(sample, **changes):
    cell = replace(load_cell(SAMPLES / sample), **changes)
    result = check(cell)
    return result, put_together(result)


def put_together(result, still=None, count=3):
    """Return the content with the moments that the command would choose."""
    shown = tuple(Shown(f, "from the left", still) for f in delicate_moments(result, count))
    return sheet_content(result, "cell.yaml and all files that it names", "2031-01-01", shown)


def picture(width=780, height=500):
    """Return a PNG of the size of a still."""
    buffer = io.BytesIO()
    Image.new("L", (width, height), 128).save(buffer, format="PNG")
    return buffer.getvalue()


def pages_of(raw):
    return [page.extract_text() for page in PdfReader(io.BytesIO(raw)).pages]


def words_of(html):
    return flat(unescape(re.sub("<[^>]+>", " ", html)))


def flat(text):
    return " ".join(text.split())


def moves_in(text):
    found = re.findall(r"(?:^| )(\d+) (?:joint|linear|seam) (?!move)", text)
    return [int(row) for row in found]


def assert_all_findings_stand(result, content, text):
    """Each finding stands in exactly one list, and as often as there are findings."""
    text = text.replace("watch: ", "").replace("stop: ", "")
    for said in {f.text for f in result.findings}:
        assert text.count(flat(said)) == sum(f.text == said for f in result.findings), said
    listed = len(content.findings) + sum(bool(line.lead) for line in content.wrist)
    twice = sum(line.text.startswith("see moment") for line in content.wrist)
    moments = sum(bool(moment.level) for moment in content.moments)
    assert listed - twice + moments == len(result.findings)

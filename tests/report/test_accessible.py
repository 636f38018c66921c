"""The sheet and the explained findings by axe-core in a browser, as wide as a phone and a desk.

It needs chromium, and axe-core where node keeps its modules (``npm install -g axe-core``), or its
file in ``AXE_CORE``.
"""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from pathsim.cli.main import main
from tests.report.browser import found_in

SAMPLES = Path(__file__).parents[2] / "sample_cells"
CELLS = ("gate_hinge", "gate_hinge_no_retract")
_RUN = """axe.run(document, {resultTypes: ["violations"]}).then(found =>
  found.violations.map(one => [one.id, one.impact, one.nodes.map(n => n.html)]))"""


@pytest.fixture(scope="module")
def axe():
    """Return axe-core's text."""
    places = [os.environ.get("AXE_CORE", "")]
    if shutil.which("npm") is not None:
        asked = subprocess.run(["npm", "root", "-g"], capture_output=True, text=True, check=False)
        places.append(f"{asked.stdout.strip()}/axe-core/axe.min.js")
    found = next((place for place in places if place and Path(place).is_file()), None)
    if found is None:
        pytest.skip("axe-core is not installed: npm install -g axe-core, or AXE_CORE=its file")
    return Path(found).read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    for cell in CELLS:
        sheet, page = folder / f"{cell}-sheet.html", folder / f"{cell}-page.html"
        assert main(["sheet", str(SAMPLES / cell), "-o", str(sheet), "--no-stills"]) in (0, 1)
        assert main(["explain", str(SAMPLES / cell), "--page", str(page)]) == 0
    return folder


def violations(axe, path, width, folder):
    """Return what axe finds wrong: rule, how bad, and the elements."""
    return found_in(path.read_text(encoding="utf-8"), width, _RUN, folder, axe)


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("kind", ["sheet", "page"])
@pytest.mark.parametrize("cell", CELLS)
def test_axe_finds_nothing_wrong(axe, pages, tmp_path, cell, kind, width):
    assert violations(axe, pages / f"{cell}-{kind}.html", width, tmp_path) == []


def test_axe_would_notice(axe, tmp_path):
    """A picture without a text and pale type are found, or the test above says nothing."""
    bad = tmp_path / "bad.html"
    bad.write_text(
        '<!doctype html><html lang="en"><head><title>t</title></head><body><main><h1>t</h1>'
        '<img src="data:image/png;base64,"><p style="color:#ccc;background:#fff">pale</p></main>'
        "</body></html>",
        encoding="utf-8",
    )
    found = {rule for rule, *_ in violations(axe, bad, 1280, tmp_path)}
    assert {"image-alt", "color-contrast"} <= found


_CLEARANCES = """[innerWidth, [...document.querySelectorAll(".moves td.clear")].map(cell => {
  const box = cell.getBoundingClientRect();
  return [box.left, box.right, cell.textContent.replace("\\xa0", " ")] })]"""


@pytest.mark.parametrize("width", [340, 390, 768])
def test_clearances_are_seen_on_a_phone_without_scrolling_sideways(pages, tmp_path, width):
    page = (pages / "gate_hinge_no_retract-sheet.html").read_text(encoding="utf-8")
    wide, cells = found_in(page, width, _CLEARANCES, tmp_path)
    assert wide == width
    assert [text for *_, text in cells] == ["36.6 mm", "4.5 mm", "3.1 mm", "touches"]
    assert all(0 <= left < right <= width for left, right, _ in cells)

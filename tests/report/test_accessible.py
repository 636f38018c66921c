"""The sheet and the explained findings by axe-core in a browser, as wide as a phone and a desk.

It needs chromium, and axe-core where node keeps its modules (``npm install -g axe-core``), or its
file in ``AXE_CORE``.
"""

import json
import os
import re
import shutil
import subprocess
from html import unescape
from pathlib import Path

import pytest

from pathsim.cli.main import main

SAMPLES = Path(__file__).parents[2] / "sample_cells"
CELLS = ("gate_hinge", "gate_hinge_no_retract")
_RUN = """<script>{axe}</script><script>
axe.run(document, {{resultTypes: ["violations"]}}).then(found => {{
  const rows = found.violations.map(one => [one.id, one.impact, one.nodes.map(n => n.html)]);
  const told = document.createElement("pre");
  told.id = "axe-told"; told.textContent = JSON.stringify(rows); document.body.append(told);
}});</script></body>"""


@pytest.fixture(scope="module")
def axe():
    """Return axe-core's text."""
    if shutil.which("chromium") is None:
        pytest.skip("chromium is not installed: no browser to read the pages in")
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
    text = path.read_text(encoding="utf-8").replace("</body>", _RUN.format(axe=axe))
    page = folder / f"{path.stem}-{width}.html"
    page.write_text(text, encoding="utf-8")
    read = subprocess.run(
        ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
         "--disable-background-networking", f"--window-size={width},900",
         "--virtual-time-budget=20000", f"--user-data-dir={folder / 'browser'}", "--dump-dom",
         page.as_uri()],
        capture_output=True, text=True, check=True, timeout=120,
    ).stdout  # fmt: skip
    told = re.search(r'<pre id="axe-told">(.*?)</pre>', read, re.DOTALL)
    assert told is not None, "axe did not come to an end"
    return json.loads(unescape(told[1]))


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

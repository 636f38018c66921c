"""A page in a browser, as wide as asked, and what a script finds in it."""

import html
import json
import re
import shutil
import subprocess

import pytest

#: A browser's window is never as narrow as a phone; a frame in it is. The script is a promise.
_AROUND = """<!doctype html><html><body>
<iframe width="{width}" height="900" srcdoc="{page}"></iframe>
<script>addEventListener("message", event => {{ const told = document.createElement("pre");
told.id = "told"; told.textContent = event.data; document.body.append(told); }});
</script></body></html>"""
_INSIDE = """<script>{library}</script><script>addEventListener("load", () => {{
  const found = {script};
  Promise.resolve(found).then(said => parent.postMessage(JSON.stringify(said), "*"));
}});</script></body>"""


def found_in(page, width, script, folder, library=""):
    """Return what ``script`` finds in the HTML text ``page`` in a frame ``width`` px wide.

    ``library``: text of a script that runs first. Skips the test where no browser is.
    """
    if shutil.which("chromium") is None:
        pytest.skip("chromium is not installed: no browser to read the pages in")
    inside = page.replace("</body>", _INSIDE.format(library=library, script=script))
    around = folder / f"around-{width}.html"
    around.write_text(_AROUND.format(width=width, page=html.escape(inside)), encoding="utf-8")
    read = subprocess.run(
        ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
         "--disable-background-networking", "--window-size=1500,1000",
         "--virtual-time-budget=20000", f"--user-data-dir={folder / 'browser'}", "--dump-dom",
         around.as_uri()],
        capture_output=True, text=True, check=True, timeout=120,
    ).stdout  # fmt: skip
    told = re.search(r'<pre id="told">(.*?)</pre>', read, re.DOTALL)
    assert told is not None, "the script did not come to an end"
    return json.loads(html.unescape(told[1]))

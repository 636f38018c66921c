"""What the pages show is what comes: output of commands, and the README's lines of Python."""

import pytest

from pathsim.cli import main
from tests.docs.pages import ROOT, blocks, read

NO_RETRACT = "sample_cells/gate_hinge_no_retract"
SHOWN = [
    ("README.md", "", ["check", NO_RETRACT], "Gate hinge, no retract"),
    ("docs/guide/results.md", "text", ["check", NO_RETRACT], "Gate hinge, no retract"),
    ("docs/guide/advice.md", "text", ["advise", NO_RETRACT], "1. stop"),
    ("docs/guide/advice.md", "text", ["explain", NO_RETRACT, "1"], "From 'weld end'"),
]


@pytest.mark.parametrize(("page", "language", "arguments", "begins"), SHOWN)
def test_shown_output_is_what_is_printed(page, language, arguments, begins, monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    shown = [b for b in blocks(read(page)) if b.language == language and b.text.startswith(begins)]
    assert len(shown) == 1
    main(arguments)
    out = " ".join(capsys.readouterr().out.split())
    lines = [part for line in shown[0].text.splitlines() for part in line.split("...")]
    pieces = [" ".join(part.split()) for part in lines]
    assert sum(map(bool, pieces)) >= 4
    missing = [piece for piece in pieces if piece not in out]
    assert not missing


def test_the_readme_is_short_and_says_what_comes_in_python(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    (code,) = [b.text for b in blocks(read("README.md")) if b.language == "python"]
    assert code in read("docs/api.md")
    assert len(code.strip().splitlines()) <= 10
    exec(compile(code, "README.md", "exec"), {})  # noqa: S102 - our own page
    out = capsys.readouterr().out.splitlines()
    assert out[0] == "False" and out[1].startswith("stop The neck touches the left clamp")

"""What the pages show is what comes: output of commands, and the README's lines of Python."""

import pytest

import pathsim
from pathsim.findings import Level
from tests.docs.pages import ROOT, blocks, command_line, first_columns, links, read, ticked

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
    command_line().main(arguments)
    out = " ".join(capsys.readouterr().out.split())
    lines = [part for line in shown[0].text.splitlines() for part in line.split("...")]
    pieces = [" ".join(part.split()) for part in lines]
    assert sum(map(bool, pieces)) >= 4
    missing = [piece for piece in pieces if piece not in out]
    assert not missing


def test_the_readme_is_short_and_says_what_comes_in_python(monkeypatch, capsys, tmp_path):
    monkeypatch.chdir(ROOT)
    (code,) = [b.text for b in blocks(read("README.md")) if b.language == "python"]
    assert code in read("docs/api.md")
    assert len(code.strip().splitlines()) <= 10
    new = tmp_path / "gate_hinge_advised"
    assert code.count('"gate_hinge_advised"') == 1
    code = code.replace('"gate_hinge_advised"', repr(str(new)))
    exec(compile(code, "README.md", "exec"), {})  # noqa: S102 - our own page
    summary, touching, advice = capsys.readouterr().out.splitlines()
    assert "1 stop, 3 watch, 1 note" in summary and "# 1 stop, 3 watch, 1 note" in code
    assert touching == "[(4, 'neck', 'left clamp')]"
    assert advice.startswith("Teach 'retract'")
    assert not pathsim.check(pathsim.load_cell(new)).has(Level.STOP)


def test_every_sample_cell_is_in_the_table_with_its_exit_code():
    page = read("docs/sample_cells.md")
    cells = {path.parent.name for path in (ROOT / "sample_cells").glob("*/cell.yaml")}
    named = [name for cell in first_columns(page, "Cell") for name in ticked(cell)]
    assert sorted(named) == sorted(cells)
    assert {f"../sample_cells/{name}/README.md" for name in cells} == set(links(page))
    rows = [line for line in page.splitlines() if line.startswith("| `")]
    said = {ticked(row)[0]: row.split("|")[-2].strip() for row in rows}
    for name in cells:
        result = pathsim.check(pathsim.load_cell(ROOT / "sample_cells" / name))
        assert said[name] == ("0" if result.is_clear else "1"), name

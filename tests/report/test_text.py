"""The terminal: readable at 40 to 140 columns, findings and verdict last."""

from pathlib import Path

import pytest
from rich.console import Console

import pathsim
from pathsim.caution import CAUTION
from pathsim.cli.main import main
from pathsim.report import print_brief, print_result
from pathsim.report.text import wrapped
from pathsim.result.words import verdict

SAMPLES = Path(__file__).parents[2] / "sample_cells"
_results = {}


def result_of(name):
    if name not in _results:
        _results[name] = pathsim.check(pathsim.load_cell(SAMPLES / name))
    return _results[name]


def printed(result, width, write=print_result):
    console = Console(width=width, record=True, file=open("/dev/null", "w"))  # noqa: SIM115, PTH123
    write(result, console)
    text = console.export_text()
    console.file.close()
    return text


@pytest.mark.parametrize("width", [40, 60, 75, 80, 110, 140])
@pytest.mark.parametrize("name", ["gate_hinge_no_retract", "wrist_in_line", "gate_hinge"])
@pytest.mark.parametrize("write", [print_result, print_brief])
def test_no_line_is_wider_than_the_terminal_and_nothing_is_lost(name, width, write):
    result = result_of(name)
    text = printed(result, width, write)
    assert max(len(line.rstrip()) for line in text.splitlines()) <= width
    flat = " ".join(text.split())
    for finding in result.findings:
        assert " ".join(finding.text.split()) in flat
    # what matters stands last: the findings in order, then the verdict
    assert flat.endswith(verdict(result))
    if result.findings:
        assert flat.rindex(result.findings[-1].text) > flat.rindex(result.findings[0].text) or (
            len(result.findings) == 1
        )
    assert CAUTION in flat and "Not checked: " in flat
    if write is print_result:
        assert flat.index(verdict(result)) < flat.index("1 joint")


def test_lines_hang_and_no_number_loses_its_unit():
    words = "Wire to left clamp: 4.5 mm guaranteed, margin 10 mm. Move 4, 11 % to 14 %, at 27.3 s."
    for width in range(20, 100):
        lines = wrapped(words, width, 4)
        assert all(line.startswith("    ") for line in lines[1:])
        assert not any(line.split()[0] in {"mm", "%", "s", "mm.", "%,", "s."} for line in lines)
        assert " ".join(part for line in lines for part in line.split()) == words


def test_columns_are_respected_when_piped(monkeypatch, capsys):
    sample = str(SAMPLES / "gate_hinge_no_retract")
    for columns, most in (("48", 48), ("130", 130), ("wide", 110), ("3", 110)):
        monkeypatch.setenv("COLUMNS", columns)
        assert main(["check", sample, "--brief"]) == 1
        lines = capsys.readouterr().out.splitlines()
        assert max(map(len, lines)) <= most
        assert max(map(len, lines)) > most - 25
    assert lines[-1] == "Not clear: 1 stop, 3 watch."
    assert not any("guaranteed clearance" in line for line in lines)

"""The guide of the first hour, done as it is written: each command run, each block put in."""

import re
import shlex

from pathsim import check, load_cell
from pathsim.findings import Level
from tests.docs.pages import blocks, command_line, read

PAGE = "docs/guide/first_hour.md"


def test_the_first_hour_is_as_the_guide_says(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    shown = blocks(read(PAGE))
    commands = [b.text for b in shown if b.language == "sh"]
    assert len(commands) == 3

    def run(text):
        for line in text.strip().splitlines():
            name, *arguments = shlex.split(line)
            assert name == "pathsim"
            assert command_line().main(arguments) == 0, line

    run(commands[0])
    assert "This cell is not finished" in " ".join(capsys.readouterr().out.split())
    path = tmp_path / "my_cell" / "cell.yaml"
    text = path.read_text(encoding="utf-8")
    for block in (b.text for b in shown if b.language == "yaml"):
        key = block.split(":")[0]
        # A key and all that is indented below it, or commented out there.
        text, count = re.subn(
            rf"(?m)^{key}:.*\n(?:[ #].*\n)*", block.replace("\\", r"\\") + "\n", text
        )
        assert count == 1, key
    points, touches = [b.text for b in shown if b.language == "text"]
    (tmp_path / "my_cell" / "points.csv").write_text(points, encoding="utf-8")
    for word in ("bodies", "points", "program"):
        assert f", {word}" in text
        text = text.replace(f", {word}", "", 1)
    path.write_text(text, encoding="utf-8")
    run(commands[1])
    result = check(load_cell(tmp_path / "my_cell"))
    assert not result.has(Level.WATCH)
    assert [str(word) for word in result.cell.to_do] == ["arm", "torch"]
    assert any(move.arc_on for move in result.cell.program.moves)
    (tmp_path / "touches.csv").write_text(touches, encoding="utf-8")
    run(commands[2])
    placed = load_cell(tmp_path / "my_cell")
    [jig] = placed.groups
    assert 0 < jig.known_to < 0.002 and jig.known_within is not None
    for name in ("base plate", "upright", "clamp"):
        before, after = result.cell.body(name), placed.body(name)
        assert before.known_to == 0 and after.known_to == jig.known_to
        assert 1e-4 < abs(after.T_world_body - before.T_world_body).max() < 2e-3
    assert not check(placed).has(Level.WATCH)

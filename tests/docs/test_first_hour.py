"""The guide of the first hour, done as it is written: each command run, each block put in."""

import re
import shlex

from pathsim import check, load_cell
from pathsim.findings import Level
from tests.docs.pages import blocks, command_line, read

PAGE = "docs/guide/first_hour.md"


def run(text):
    """Run each line of a block; return the exit codes."""
    codes = []
    for line in text.strip().splitlines():
        name, *arguments = shlex.split(line)
        assert name == "pathsim"
        codes.append(command_line().main(arguments))
    return codes


def test_the_first_hour_is_as_the_guide_says(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    shown = blocks(read(PAGE))
    made, checked, cured, arm, placed = (b.text for b in shown if b.language == "sh")
    assert run(made) == [0, 0]
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

    assert run(checked) == [1]
    said = " ".join(capsys.readouterr().out.split())
    assert "touches the upright" in said and "touches the clamp" in said
    result = check(load_cell(tmp_path / "my_cell"))
    # The weld is sound with its weave; all that hits is on the way home.
    assert result.cell.program.moves[2].weave is not None
    assert {f.move for f in result.findings if f.level.at_least(Level.WATCH)} == {4}

    assert run(cured) == [1, 0]  # the exit code of 'advise' is about the cell as it is
    said = " ".join(capsys.readouterr().out.split())
    assert "Teach 'retract'" in said and "Joints of 'retract'" in said
    assert "Not finished: arm, torch still as examples. With these, all margins are kept." in said
    good = check(load_cell(tmp_path / "my_cell_cured"))
    assert not good.has(Level.WATCH)
    assert [str(word) for word in good.cell.to_do] == ["arm", "torch"]

    assert run(arm) == [0]
    (tmp_path / "touches.csv").write_text(touches, encoding="utf-8")
    assert run(placed) == [0, 0]
    after = load_cell(tmp_path / "my_cell_cured")
    [jig] = after.groups
    assert 0 < jig.known_to < 0.002 and jig.known_within is not None
    for name in ("base plate", "upright", "clamp"):
        was, now = good.cell.body(name), after.body(name)
        assert was.known_to == 0 and now.known_to == jig.known_to
        assert 1e-4 < abs(now.T_world_body - was.T_world_body).max() < 2e-3
    assert not check(after).has(Level.WATCH)


def test_the_first_quarter_of_an_hour_can_be_read_in_a_third_of_it():
    """200 words a minute, code and all; the page says 4 minutes for it."""
    text = read(PAGE)
    first = text[text.index("## The first quarter") : text.index("## Your arm and your torch")]
    prose_words = len(re.sub(r"(?ms)^```.*?^```", "", first).split())
    assert prose_words / 200 < 2.5
    assert len(first.split()) / 200 < 4.5

"""``pathsim advise`` and ``pathsim explain`` as a person types them."""

import shutil
from pathlib import Path

import pytest

from pathsim.cli import main
from pathsim.files import load_cell
from pathsim.files.cell_writer import write_changed_cell

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture
def cells(tmp_path):
    """Copies beside each other, as the paths in them want it."""
    for name in ("gate_hinge", "gate_hinge_no_retract", "shop", "shop_arm", "wrist_in_line",
                 "collar_seam"):  # fmt: skip
        shutil.copytree(SAMPLES / name, tmp_path / name)
    return tmp_path


def test_advise_writes_a_cell_that_checks_as_it_says(cells, capsys):
    old = cells / "gate_hinge_no_retract"
    before = {p.name: p.read_bytes() for p in old.iterdir()}
    new = cells / "with retract"
    assert main(["advise", str(old), "--write", str(new)]) == 1
    flat = " ".join(capsys.readouterr().out.split())
    assert "retract: Teach a point 'retract' 140 mm back along the wire" in flat
    assert "0 stop or watch findings, 4 before" in flat
    assert {p.name: p.read_bytes() for p in old.iterdir()} == before
    text = (new / "cell.yaml").read_text()
    assert '# "turned" is about the fixed x, then y, then z axis' in text.replace("   #", " #")
    assert "- {linear: retract, speed: 60 mm/s}" in text
    assert main(["check", str(new)]) == 0
    assert [m.target for m in load_cell(new).program.moves][3:] == ["retract", "home"]


def test_an_existing_folder_is_never_written_over(cells, capsys):
    old = cells / "gate_hinge_no_retract"
    assert main(["advise", str(old), "--write", str(cells / "gate_hinge")]) == 2
    assert "exists already" in capsys.readouterr().err
    assert main(["advise", str(old), "--write", str(cells / "deep" / "x")]) == 2
    assert "does not lie beside" in capsys.readouterr().err
    assert not list(cells.glob(".new-cell*"))


def test_a_cell_that_is_clear_needs_nothing(cells, capsys):
    assert main(["advise", str(cells / "gate_hinge")]) == 0
    assert "nothing that a point would cure" in capsys.readouterr().out


def test_explain_by_number(cells, capsys):
    assert main(["explain", str(cells / "wrist_in_line"), "1"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "joints 4 and 6 lie nearly in one line" in out
    assert "What cures it" in out and "not a safety function" in out
    assert main(["explain", str(cells / "wrist_in_line"), "7"]) == 2
    assert "there is no finding 7" in capsys.readouterr().err


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_points_are_written_as_the_file_is_typed(cells, separator):
    """Semicolons with decimal commas, a byte order mark, Windows line ends, notes, units."""
    folder = cells / "gate_hinge_no_retract"
    path = folder / "points.csv"
    rows = [line.split(",") for line in path.read_text().splitlines()]
    comma = separator == ";"
    lines = [separator.join([*(c.replace(".", ",") if comma else c for c in row), extra])
             for row, extra in zip(rows, ["note", "a", "b", "c", "d"], strict=True)]  # fmt: skip
    path.write_bytes(b"\xef\xbb\xbf" + ("\r\n".join(["# kept", *lines]) + "\r\n").encode())
    cell = load_cell(folder)
    q = cell.points["weld end"].q + 0.1
    new = cells / "new"
    loaded = write_changed_cell(folder, new, cell, {"fresh": q, "approach": q}, [])
    for name in ("fresh", "approach"):
        assert abs(loaded.points[name].q - q).max() < 1e-6
    raw = (new / "points.csv").read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf# kept\r\n")
    text = raw.decode("utf-8-sig").split("\r\n")
    assert text[3].endswith(separator + "b") and text[2] == lines[1]


def test_a_file_of_poses_only_is_refused_in_words(cells):
    folder = cells / "gate_hinge_no_retract"
    cell = load_cell(folder)
    path = folder / "points.csv"
    path.write_text("name,x mm,y mm,z mm,r1 deg,r2 deg,r3 deg\na,1,2,3,0,0,0\n")
    from pathsim.errors import CannotCheck

    with pytest.raises(CannotCheck, match="no columns for joint values"):
        write_changed_cell(folder, cells / "new", cell, {"b": cell.points["home"].q}, [])
    assert not (cells / "new").exists()

"""Outputs never replace what somebody made: no input of the cell, no file of another kind."""

import os
import shutil
import sys
from pathlib import Path

import pytest

from pathsim.cli.main import main
from pathsim.errors import CannotCheck
from pathsim.files import load_cell
from pathsim.files.contents import input_files
from pathsim.outputs import Output, OutputFile

SAMPLES = Path(__file__).parents[1] / "sample_cells"


@pytest.fixture
def cell(tmp_path):
    for name in ("shop", "shop_arm", "wrist_in_line", "gate_hinge", "collar_seam"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    return tmp_path / "wrist_in_line"


def everything(folder):
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def no_work(monkeypatch):
    """Make every check fail: what has to be said before the work is said before it."""
    monkeypatch.setattr(sys.modules["pathsim.check"], "measure_moves", None)


#: Command, options before the file, an input that it is pointed at, and a new name that it takes.
WRITERS = [
    (["check"], ["--json"], "cell.yaml"),
    (["check"], ["--json"], "points.csv"),
    (["motion"], ["-o"], "points.csv"),
    (["advise"], ["--json"], "points.csv"),
    (["advise"], ["--json"], "../shop_arm/arm.yaml"),
    (["check"], ["--json"], "../shop_arm/torch.yaml"),
]


@pytest.mark.parametrize(("command", "option", "target"), WRITERS)
@pytest.mark.parametrize("way", ["itself", "symlink", "hard link", "other case", "from elsewhere"])
def test_no_output_replaces_an_input(cell, tmp_path, capsys, monkeypatch, command, option,
                                     target, way):  # fmt: skip
    path = cell / target
    if way == "symlink":
        path = cell / f"link{path.suffix}"
        path.symlink_to(cell / target)
    elif way == "hard link":
        path = cell / f"link{path.suffix}"
        os.link(cell / target, path)
    elif way == "other case":
        path = path.with_name(path.name.upper())
        path = path.with_suffix(path.suffix.lower()) if command == ["motion"] else path
    elif way == "from elsewhere":
        monkeypatch.chdir(cell.parent / "shop")
        path = Path("..") / cell.name / target
    before = everything(tmp_path)
    no_work(monkeypatch)
    assert main([*command, str(cell), *option, str(path)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "a file that this cell is read from" in said
    assert Path(target).name in said and "another name" in said
    assert everything(tmp_path) == before and path.is_symlink() == (way == "symlink")


@pytest.mark.parametrize(
    ("command", "option", "name"),
    [
        (["check"], "--json", "notes.json"),
        (["motion"], "-o", "notes.csv"),
        (["motion"], "-o", "notes.json"),
        (["advise"], "--json", "notes.json"),
        (["sheet", "--no-stills"], "-o", "notes.pdf"),
        (["sheet", "--no-stills"], "-o", "notes.html"),
        (["explain", "--page"], None, "notes.html"),
        (["still"], "-o", "photo.png"),
        (["still", "--clip"], "-o", "photo.webp"),
    ],
)
@pytest.mark.parametrize("what", ["mine", "folder", "no folder"])
def test_only_an_older_output_of_the_kind_is_replaced(cell, tmp_path, capsys, monkeypatch,
                                                      command, option, name, what):  # fmt: skip
    pytest.importorskip("pyvista")
    monkeypatch.setattr("pathsim.view.probe.begin_off_screen", lambda: None)
    no_work(monkeypatch)
    path = tmp_path / name
    if what == "mine":
        head = {".png": b"\x89PNG\r\n\x1a\n", ".webp": b"RIFF\0\0\0\0WEBP", ".pdf": b"%PDF-1.4"}
        path.write_bytes(head.get(path.suffix, b'{"format": "mine"}') + b"pathsim, by hand")
    elif what == "folder":
        path.mkdir()
    else:
        path = tmp_path / "nowhere" / name
    before = everything(tmp_path)
    place = [] if option is None else [option]
    assert main([command[0], str(cell), *command[1:], *place, str(path)]) == 2
    said = capsys.readouterr().err
    needed = {"mine": "was not replaced", "folder": "is a folder", "no folder": "there is no fold"}
    assert needed[what] in said and said.count("\n") == 1, said
    assert everything(tmp_path) == before


@pytest.mark.parametrize(
    ("command", "name"),
    [
        (["check", "--json"], "r.json"),
        (["motion", "-o"], "m.csv"),
        (["motion", "-o"], "m.json"),
        (["advise", "--json"], "a.json"),
        (["sheet", "--no-stills", "-o"], "s.pdf"),
        (["sheet", "--no-stills", "-o"], "s.html"),
    ],
)
def test_an_older_output_of_the_same_kind_is_replaced(cell, tmp_path, command, name):
    path = tmp_path / name
    path.write_bytes(b"")  # made by a program that reserves names: nothing is lost
    for _ in range(2):
        assert main([command[0], str(cell), *command[1:], str(path)]) in (0, 1)
        assert path.stat().st_size > 1000
    kinds = {"s.pdf": Output.SHEET, "s.html": Output.SHEET_PAGE, "a.json": Output.ADVICE}
    if name in kinds:
        others = [kind for kind in Output if kind.is_one(path)]
        assert others == [kinds[name]]


def test_pictures_and_pages_are_known_again(cell, tmp_path):
    pytest.importorskip("pyvista")
    assert main(["still", str(cell), "-o", str(tmp_path / "one.png"), "--size", "480x360"]) == 0
    assert main(["explain", str(cell), "--page", str(tmp_path / "page.html")]) == 0
    for name, kind in (("one.png", Output.STILL), ("page.html", Output.PAGE)):
        assert [one for one in Output if one.is_one(tmp_path / name)] == [kind]
    # Of several pictures one would lose a file: none is written.
    photo = tmp_path / "all-from-above.png"
    photo.write_bytes(b"\x89PNG\r\n\x1a\n a photo")
    many = ["still", str(cell), "--at", "all", "-o", str(tmp_path / "all.png")]
    assert main([*many, "--size", "480x360"]) == 2
    assert [p.name for p in tmp_path.glob("all*")] == [photo.name]


def test_a_clip_is_known_again(tmp_path):
    pytest.importorskip("PIL")
    from PIL import Image

    from pathsim.view.stills import _encoded

    frames = [Image.new("RGB", (64, 48), color) for color in ("red", "blue")]
    raw = _encoded(frames[0], format="WEBP", save_all=True, append_images=frames[1:])
    (tmp_path / "clip.webp").write_bytes(raw)
    assert [one for one in Output if one.is_one(tmp_path / "clip.webp")] == [Output.CLIP]


def test_a_device_is_no_file_to_replace(cell, capsys):
    assert main(["check", str(cell), "--json", "/dev/null"]) == 2
    assert "no ordinary file" in capsys.readouterr().err
    assert not Path("/dev/null").is_file()


def test_what_comes_there_during_the_work_stays(cell, tmp_path):
    path = tmp_path / "r.json"
    place = OutputFile.free(path, Output.RESULT, input_files(cell, load_cell(cell)))
    path.write_text("saved by somebody meanwhile")
    with pytest.raises(CannotCheck, match="was not replaced"):
        place.write("{}")
    assert path.read_text() == "saved by somebody meanwhile"


def test_behind_a_link_the_file_is_written_and_the_link_stays(cell, tmp_path):
    real, link = tmp_path / "real.json", tmp_path / "link.json"
    link.symlink_to(real)
    for _ in range(2):
        assert main(["check", str(cell), "--json", str(link)]) == 1
        assert link.is_symlink() and real.stat().st_size > 1000


def test_all_files_that_a_cell_is_read_from_are_known(cell):
    names = {path.relative_to(cell.parent).as_posix() for path in
             input_files(cell / "cell.yaml", load_cell(cell))}  # fmt: skip
    assert {"wrist_in_line/cell.yaml", "wrist_in_line/points.csv", "shop_arm/arm.yaml",
            "shop_arm/torch.yaml"} < names  # fmt: skip
    assert all((cell.parent / name).is_file() for name in names)
    assert any(name.endswith(".stl") for name in names)


def test_advice_and_new_folder_need_two_names(cell, tmp_path, capsys):
    new = str(tmp_path / "new")
    assert main(["advise", str(cell), "--json", new, "--write", new]) == 2
    assert "two names" in capsys.readouterr().err

"""``pathsim new``: what is written checks at once, and says what is next."""

from dataclasses import replace

import pytest

from pathsim import CellFaults, check, load_cell
from pathsim.cli.main import main
from pathsim.files.new_cell import AROUND, OWN_ARMS, STANDS
from pathsim.files.ready_made import ARMS, TORCHES
from pathsim.findings import Level
from pathsim.findings.kinds import FindingKind
from pathsim.report.sheet_content import sheet_content
from pathsim.result.words import verdict
from pathsim.scene.build import build_scene
from pathsim.view.panel import verdict as panel_verdict


@pytest.mark.parametrize("arm", [*ARMS, *OWN_ARMS])
@pytest.mark.parametrize("torch", TORCHES)
def test_every_arm_with_every_torch_checks_at_once(tmp_path, arm, torch, capsys):
    folder = tmp_path / "first_cell"
    assert main(["new", str(folder), "--arm", arm, "--torch", torch]) == 0
    assert "pathsim check" in capsys.readouterr().out
    assert main(["check", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "This cell is not finished" in said
    assert "Not finished: arm" in said and "Clear" not in said


@pytest.mark.parametrize("stands", STANDS)
@pytest.mark.parametrize("arm", ARMS)
def test_however_it_stands(tmp_path, stands, arm):
    around = [word for one in AROUND for word in ("--around", one)]
    folder = tmp_path / "my cell"
    assert main(["new", str(folder), "--arm", arm, "--stands", stands, *around]) == 0
    result = check(load_cell(folder))
    assert not result.has(Level.WATCH), [
        f.text for f in result.findings if f.level is not Level.NOTE
    ]
    assert {"bench", "wall", "post", "floor"} <= {body.name for body in result.cell.bodies}
    assert result.cell.name == "my cell"


def test_what_is_not_finished_is_called_clear_nowhere(tmp_path):
    """The example keeps its margins, and is not the cell that will be run."""
    folder = tmp_path / "cell"
    main(["new", str(folder)])
    result = check(load_cell(folder))
    assert not result.has(Level.WATCH) and not result.is_clear
    assert verdict(result).startswith("Not finished: arm, torch")
    assert sheet_content(result, "f", "d", ()).verdict.startswith("NOT FINISHED")
    assert panel_verdict(build_scene(result))[0] == "NOT FINISHED"
    done = replace(result, cell=replace(result.cell, to_do=()))
    assert done.is_clear and verdict(done).startswith("Clear")


def test_what_is_next_goes_on_as_words_are_struck_out(tmp_path):
    folder = tmp_path / "cell"
    main(["new", str(folder)])
    path = folder / "cell.yaml"
    for word in ("arm", "torch", "bodies", "points"):
        [finding] = [f for f in check(load_cell(folder)).findings
                     if f.kind is FindingKind.UNFINISHED]  # fmt: skip
        assert f"strike out '{word}'" in finding.text
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace(f"to do: [{word}, ", "to do: ["), encoding="utf-8")
    path.write_text(path.read_text(encoding="utf-8").replace("to do: [program]", ""), "utf-8")
    kinds = {finding.kind for finding in check(load_cell(folder)).findings}
    assert FindingKind.UNFINISHED not in kinds


def test_a_word_that_is_none_is_a_fault(tmp_path):
    folder = tmp_path / "cell"
    main(["new", str(folder)])
    path = folder / "cell.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("[arm, ", "[arms, "), "utf-8")
    with pytest.raises(CellFaults, match=r"Did you mean 'arm'"):
        load_cell(folder)


def test_half_a_cell_says_what_to_write(tmp_path, capsys):
    folder = tmp_path / "cell"
    main(["new", str(folder)])
    path = folder / "cell.yaml"
    text = path.read_text(encoding="utf-8").replace("margins: {air: 10 mm, seam: 1.5 mm}", "")
    path.write_text(text.replace("points: {file: points.csv}", "points:"), encoding="utf-8")
    assert main(["check", str(folder)]) == 2
    said = capsys.readouterr().err
    assert "'margins: {air: 10 mm, seam: 1.5 mm}'" in said
    assert "'points: {file: points.csv}'" in said


def test_an_empty_folder_is_told_how_to_begin(tmp_path, capsys):
    assert main(["check", str(tmp_path)]) == 2
    assert "pathsim new" in capsys.readouterr().err


def test_points_of_ones_own_come_along(tmp_path):
    points = tmp_path / "taught.csv"
    points.write_text("name;j1 deg;j2 deg;j3 deg;j4 deg;j5 deg;j6 deg\n"
                      "it's up;0;-10,5;10;0;60;0\nbeside;5;-10;10;0;60;0\n", "utf-8")  # fmt: skip
    assert main(["new", str(tmp_path / "cell"), "--points", str(points)]) == 0
    cell = load_cell(tmp_path / "cell")
    assert set(cell.points) == {"it's up", "beside"}
    assert cell.program.start == "it's up"


def test_from_another_cell(tmp_path, capsys):
    main(["new", str(tmp_path / "one"), "--arm", "small"])
    assert main(["new", str(tmp_path / "two"), "--from", str(tmp_path / "one")]) == 0
    assert load_cell(tmp_path / "two").fingerprint != ""
    assert (tmp_path / "two/cell.yaml").read_bytes() == (tmp_path / "one/cell.yaml").read_bytes()
    capsys.readouterr()
    (tmp_path / "sub").mkdir()
    assert main(["new", str(tmp_path / "sub/three"), "--from", str(tmp_path / "one")]) == 2
    assert "does not lie beside" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--arm", "huge"], "small, middle, long"),
        (["--torch", "90 deg"], "45 deg"),
        (["--around", "dog"], "bench, wall, post"),
        (["--wire", "15"], "mm, cm"),
        (["--points", "none.csv"], "cannot be read"),
        (["--from", "x", "--arm", "small"], "leave the other options out"),
    ],
)
def test_what_cannot_be_written_leaves_nothing_behind(tmp_path, options, says, capsys):
    assert main(["new", str(tmp_path / "cell"), *options]) == 2
    assert says in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_there_is_left_alone(tmp_path, capsys):
    (tmp_path / "cell").mkdir()
    assert main(["new", str(tmp_path / "cell")]) == 2
    assert "exists already" in capsys.readouterr().err
    assert main(["new", str(tmp_path / "a" / "cell")]) == 2
    assert "make it first" in capsys.readouterr().err


def test_questions_are_asked_for_what_no_option_says(tmp_path):
    from pathsim.cli.new import new_cell

    asked = []

    def ask(question, words, usual):
        asked.append(question)
        return words[-1] if "arm" not in question else usual

    new_cell(tmp_path / "cell", None, arm=None, stands=None, torch="straight", wire="20 mm",
             around=None, points=None, ask=ask)  # fmt: skip
    cell = load_cell(tmp_path / "cell")
    assert len(asked) == 3
    assert [body.name for body in cell.bodies] == ["floor", "girder"]
    assert cell.torch.wire_length == pytest.approx(0.02)


def urdf(limits=((-3.0, 3.0),) * 6):
    """An arm of six joints: up, shoulder, elbow, and a wrist, of boxes."""
    origins = ["0 0 0.2", "0.1 0 0.2", "0 0 0.6", "0.1 0 0.1", "0.5 0 0", "0.1 0 0"]
    axes = ["0 0 1", "0 1 0", "0 1 0", "1 0 0", "0 1 0", "1 0 0"]
    box = ('<collision><origin xyz="0.03 0 0"/><geometry><box size="0.04 0.04 0.04"/></geometry>'
           "</collision>")  # fmt: skip
    links = "".join(f'<link name="l{k}">{box}</link>' for k in range(7))
    joints = "".join(
        f'<joint name="j{k + 1}" type="revolute"><parent link="l{k}"/><child link="l{k + 1}"/>'
        f'<origin xyz="{origins[k]}"/><axis xyz="{axes[k]}"/>'
        f'<limit lower="{low}" upper="{high}" velocity="3" effort="1"/></joint>'
        for k, (low, high) in enumerate(limits)
    )
    return f'<?xml version="1.0"?><robot name="r">{links}{joints}</robot>'


def test_an_arm_of_a_robot_description_file_begins_a_cell_too(tmp_path, capsys):
    """Used where it lies beside the new folder, else copied; home is within limits."""
    shifted = ((0.5, 3.0), *((-3.0, 3.0),) * 5)
    (tmp_path / "arms").mkdir()
    (tmp_path / "arms" / "mine.urdf").write_text(urdf(shifted), encoding="utf-8")
    here = tmp_path / "shop"
    here.mkdir()
    (here / "mine.urdf").write_text(urdf(), encoding="utf-8")
    for name, source, text in (
        ("near", here / "mine.urdf", "../mine.urdf"),
        ("far", tmp_path / "arms" / "mine.urdf", "mine.urdf"),
    ):
        assert main(["new", str(here / name), "--urdf", str(source)]) == 0
        assert text in (here / name / "arm.yaml").read_text(encoding="utf-8")
        assert (here / name / "mine.urdf").is_file() is (name == "far")
        cell = load_cell(here / name)
        for point in cell.points.values():
            assert (cell.arm.room(point.q) > 0).all()
        assert main(["check", str(here / name), "--fail-on", "stop"]) in (0, 1)
        assert "This cell is not finished" in capsys.readouterr().out
    assert main(["new", str(here / "x"), "--urdf", str(here / "none.urdf")]) == 2
    assert "is no file" in capsys.readouterr().err
    both = ["new", str(here / "x"), "--urdf", str(here / "mine.urdf"), "--arm", "small"]
    assert main(both) == 2
    assert "leave --arm out" in capsys.readouterr().err
    assert not (here / "x").exists()

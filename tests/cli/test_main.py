"""The command line: exit codes, what stands on which stream, files whole or not at all."""

import json
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from pathsim.cli.main import main
from pathsim.cli.plain import plain_call

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_cells"


def run(*arguments, capsys):
    code = main([str(a) for a in arguments])
    out = capsys.readouterr()
    return code, out.out, out.err


@pytest.mark.parametrize(
    ("name", "options", "expected"),
    [
        ("gate_hinge", [], 0),
        ("gate_hinge_no_retract", [], 1),
        ("wrist_in_line", [], 1),
        ("wrist_in_line", ["--fail-on", "stop"], 0),
        ("gate_hinge_no_retract", ["--fail-on", "stop"], 1),
    ],
)
def test_exit_codes(name, options, expected, capsys):
    code, out, err = run("check", SAMPLES / name, *options, capsys=capsys)
    assert code == expected
    assert "guaranteed clearance" in out and "not a safety function" in out
    assert err == ""


def test_the_plainest_call_answers_as_any_other(capsys):
    """It is read without the library that reads arguments, and nothing of it differs."""
    for name in ("gate_hinge", "wrist_in_line", "no_such_cell"):
        plain = run("check", SAMPLES / name, capsys=capsys)
        assert plain == run("check", SAMPLES / name, "--fail-on", "watch", capsys=capsys)
    assert plain_call(["check", "a"]) is not None


@pytest.mark.parametrize(("command", "option"), [("sheet", "-o"), ("explain", "--page")])
def test_a_plainly_asked_page_is_that_of_any_other_call(command, option, tmp_path, capsys):
    """The same words in another order are read by the library, and the page is the same."""
    page = tmp_path / "page.html"
    for name in ("gate_hinge_no_retract", "no_such_cell"):
        plain, other = (
            (command, SAMPLES / name, option, page),
            (command, option, page, SAMPLES / name),
        )
        assert plain_call([str(one) for one in plain]) is not None
        assert plain_call([str(one) for one in other]) is None
        pages = []
        for call in (plain, other):
            said = run(*call, capsys=capsys)
            text = page.read_text() if page.exists() else ""
            # The minute in which it was made stands on it.
            pages.append((said, re.sub(r"\d{4}-\d\d-\d\d \d\d:\d\d", "", text)))
            page.unlink(missing_ok=True)
        assert pages[0] == pages[1] and bool(pages[0][1]) is (name != "no_such_cell")


@pytest.mark.parametrize(
    "words",
    [
        "", "check", "check --help", "check a --brief", "view a", "sheet a", "sheet a -o",
        "sheet -o a b", "sheet a -o --help", "sheet a --paper a4", "sheet a -o b --no-stills",
        "explain a 1", "explain a --page", "explain a --page b c", "explain --page a b",
    ],
)  # fmt: skip
def test_any_other_call_has_its_arguments_read(words):
    assert plain_call(words.split()) is None


def test_a_check_starts_without_what_it_does_not_need():
    code = (
        "import sys; from pathsim.cli.main import main; main(['check', sys.argv[1]]);"
        "bad = {'typer', 'rich.progress', 'scipy', 'yaml', 'xml.sax', 'trimesh'};"
        "assert not bad & set(sys.modules), bad & set(sys.modules)"
    )
    command = [sys.executable, "-c", code, str(SAMPLES / "gate_hinge")]
    subprocess.run(command, check=True, capture_output=True)


def test_a_reader_that_leaves_ends_the_printing():
    command = f"{sys.executable} -m pathsim check {SAMPLES / 'gate_hinge'}; echo $? >&2"
    with subprocess.Popen(["true"], stdin=subprocess.PIPE) as reader:
        reader.wait()
        done = subprocess.run(  # noqa: S602
            command, shell=True, stdout=reader.stdin, stderr=subprocess.PIPE, check=False
        )
    assert done.stderr.split() == [b"1"]


def test_what_is_printed(capsys):
    _, out, _ = run("check", SAMPLES / "gate_hinge_no_retract", capsys=capsys)
    flat = " ".join(out.split())
    assert "weld end > home" in flat
    assert "neck and left clamp" in flat
    assert "The neck touches the left clamp from" in flat
    assert "Not clear: 1 stop" in flat
    assert "Not checked: cables and hoses" in flat


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["check", "no_such_cell"], "no cell folder"),
        (["check"], "Missing argument"),
        (["chek", "x"], "check"),
        (["check", "x", "--fail-on", "never"], "never"),
        (["check", str(SAMPLES / "shop")], "no cell.yaml"),
    ],
)
def test_could_not_check_is_two_with_the_reason_on_standard_error(arguments, says, capsys):
    code, out, err = run(*arguments, capsys=capsys)
    assert code == 2
    assert says in " ".join(err.replace("│", " ").split())
    assert "Clear" not in out


def test_faults_name_file_and_line(tmp_path, capsys):
    for name in ("shop", "shop_arm", "gate_hinge"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    path = tmp_path / "gate_hinge" / "cell.yaml"
    path.write_text(path.read_text().replace("role: clamp", "role: clmp", 1))
    code, out, err = run("check", tmp_path / "gate_hinge", capsys=capsys)
    assert code == 2 and out == ""
    assert "1 fault in the cell's files" in err
    assert "gate_hinge/cell.yaml:12: bodies[4].role: came 'clmp'" in err
    assert "Did you mean 'clamp'?" in err


def test_json_is_written_whole(tmp_path, capsys):
    target = tmp_path / "result.json"
    code, _, _ = run("check", SAMPLES / "gate_hinge", "--json", target, capsys=capsys)
    assert code == 0
    document = json.loads(target.read_text(encoding="utf-8"))
    assert (document["format"], document["version"]) == ("pathsim-result", 5)
    assert [path.name for path in tmp_path.iterdir()] == ["result.json"]


def test_json_that_cannot_be_written_is_said(tmp_path, capsys):
    target = tmp_path / "missing" / "result.json"
    code, _, err = run("check", SAMPLES / "gate_hinge", "--json", target, capsys=capsys)
    assert code == 2 and "cannot write" in err


def test_python_m_is_the_same():
    done = subprocess.run(
        [sys.executable, "-m", "pathsim", "check", str(SAMPLES / "wrist_in_line")],
        capture_output=True, text=True, cwd=ROOT, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 1
    assert "Joints 4, 5 and 6 line up" in done.stdout
    assert done.stderr == ""


def test_an_unforeseen_error_is_neither_clear_nor_found(monkeypatch, capsys):
    def break_down(*_arguments, **_options):
        raise ZeroDivisionError("something odd")

    monkeypatch.setattr(sys.modules["pathsim.check"], "measure_moves", break_down)
    code, out, err = run("check", SAMPLES / "gate_hinge", capsys=capsys)
    assert code == 2 and out == ""
    assert "unforeseen ZeroDivisionError: something odd" in err


def test_interruption_writes_nothing(monkeypatch, tmp_path, capsys):
    def stop(*_arguments, **_options):
        raise KeyboardInterrupt

    monkeypatch.setattr(sys.modules["pathsim.check"], "measure_moves", stop)
    target = tmp_path / "result.json"
    code, _, err = run("check", SAMPLES / "gate_hinge", "--json", target, capsys=capsys)
    assert code == 130 and "No file was left half written" in err
    assert list(tmp_path.iterdir()) == []


def test_a_user_s_fault_is_said_as_it_is(capsys, tmp_path):
    """One line a fault, and never as something unforeseen."""
    assert main(["check", str(tmp_path / "nope")]) == 2
    said = capsys.readouterr().err
    assert said.startswith("Could not check: there is no cell folder") and "unforeseen" not in said
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "cell.yaml").write_text("format: 1\nnmae: x\n")
    assert main(["check", str(tmp_path / "bad")]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") > 3 and "unforeseen" not in said


def test_the_version_is_that_of_the_package(capsys):
    with (ROOT / "pyproject.toml").open("rb") as file:
        due = tomllib.load(file)["project"]["version"]
    assert run("--version", capsys=capsys) == (0, f"pathsim {due}\n", "")

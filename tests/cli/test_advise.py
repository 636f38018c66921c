"""``pathsim advise`` and ``pathsim explain`` as a person types them."""

import json
import shutil
from pathlib import Path

import jsonschema
import pytest

from pathsim.cli.main import main
from pathsim.files import load_cell
from pathsim.files.cell_writer import write_changed_cell
from pathsim.motion import plan_program
from pathsim.report.advice_json import schema

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
    assert "retract: Teach 'retract' 50 mm from 'weld end', half way between" in flat
    assert "0 stop or watch findings, 4 before" in flat
    assert {p.name: p.read_bytes() for p in old.iterdir()} == before
    text = (new / "cell.yaml").read_text()
    assert '# "turned" is about the fixed x, then y, then z axis' in text.replace("   #", " #")
    assert "- {linear: retract, speed: 60 mm/s}" in text
    assert main(["check", str(new)]) == 0
    assert [m.target for m in load_cell(new).program.moves][3:] == ["retract", "home"]


def test_a_move_that_hits_several_things_is_one_block(cells, capsys):
    """Its findings stand together, and each proposal once behind them."""
    assert main(["advise", str(cells / "gate_hinge_no_retract")]) == 1
    lines = capsys.readouterr().out.splitlines()
    heads = [line for line in lines if line[:2] in ("1.", "2.", "3.", "4.")]
    assert [head[:2] for head in heads] == ["1.", "2.", "3.", "4."]
    flat = " ".join(" ".join(lines).split())
    assert flat.count("Teach a point 'retract' 140 mm back along the wire") == 1
    assert flat.count("Tried without success") == 1
    assert flat.index("4. watch") < flat.index("- retract: Teach 'retract' 50 mm")


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


def test_a_file_of_poses_only_gets_columns_for_joint_values(cells):
    """Joint values say every whole turn; the poses beside them stay to the last letter."""
    for name in ("hanging_rail", "bench_arm"):
        shutil.copytree(SAMPLES / name, cells / name)
    folder = cells / "hanging_rail"
    cell, path = load_cell(folder), folder / "points.csv"
    old = path.read_text().splitlines()
    path.write_text("# kept\n" + "\n".join(old) + "\n")
    track = plan_program(cell).tracks[0]
    q = track.q[-1] + [0.01, 0, 0, 0, 0, 0, -0.3]
    loaded = write_changed_cell(folder, cells / "new", cell, {"fresh": q, "approach": q}, [])
    for name in ("fresh", "approach"):
        assert abs(loaded.points[name].q - q).max() < 1e-6
        assert str(loaded.points[name].posture) == "ahead high plus"
        assert dict(loaded.points[name].about)[6] == pytest.approx(q[6], abs=0.01)
    text = (cells / "new" / "points.csv").read_text().splitlines()
    assert text[0] == "# kept" and text[1] == old[0] + ",j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg"
    kept = [k for k, line in enumerate(old) if k and not line.startswith("approach")]
    assert [text[k + 1] for k in kept] == [old[k] + "," * 6 for k in kept]


def test_two_seams_get_their_retracts_in_one_new_cell(cells, capsys):
    """Both proposals are one point taught once; the second used to be left out for its name."""
    old = cells / "gate_hinge_no_retract"
    path = old / "cell.yaml"
    text = path.read_text()
    again, end = text.index("  - {joint: approach"), text.index("\nsheet:")
    path.write_text(text[:end] + text[again:end] + text[end:])
    new = cells / "both"
    assert main(["advise", str(old), "--write", str(new)]) == 1
    flat = " ".join(capsys.readouterr().out.split())
    assert "0 stop or watch findings, 8 before. Points written: 'retract'." in flat
    assert (new / "cell.yaml").read_text().count("- {linear: retract, speed: 60 mm/s}") == 2
    assert main(["check", str(new)]) == 0


def test_a_written_cell_that_does_not_hold_is_taken_away(cells, capsys, monkeypatch):
    """What is read back is not what was meant: nothing stays, and the reason is said."""
    import pathsim.files.cell_writer as writer

    right = writer.with_points
    old, new = cells / "gate_hinge_no_retract", cells / "new"

    def wrong(path, form, arm, points):
        return right(path, form, arm, {name: q + 0.01 for name, q in points.items()})

    monkeypatch.setattr(writer, "with_points", wrong)
    assert main(["advise", str(old), "--write", str(new)]) == 2
    assert "point 'retract' would not read as it was meant" in capsys.readouterr().err
    assert not new.exists() and not list(cells.glob(".new-cell*"))


def test_a_rounding_that_a_straight_move_replaces_is_not_kept(cells):
    """The line that becomes the way down into the weld stops there, whatever it did before."""
    from dataclasses import replace

    from pathsim.model import Move, MoveKind

    folder = cells / "gate_hinge"
    path = folder / "cell.yaml"
    path.write_text(
        path.read_text().replace("{joint: approach, speed: 40 %}",
                                 "{joint: approach, speed: 40 %, rounding: 5 mm}")
    )  # fmt: skip
    cell = load_cell(folder)
    assert cell.program.moves[0].rounding > 0
    straight = Move(MoveKind.LINEAR, "approach", 0.05)
    loaded = write_changed_cell(folder, cells / "new", cell, {}, [], [(0, straight)])
    assert replace(loaded.program.moves[0], line=None) == straight


def test_advice_as_json_says_what_the_text_says(cells, capsys):
    out = cells / "advice.json"
    assert main(["advise", str(cells / "gate_hinge_no_retract"), "--json", str(out)]) == 1
    flat = " ".join(capsys.readouterr().out.split())
    document = json.loads(out.read_text())
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(document, schema(), cls=jsonschema.Draft202012Validator)
    assert [one["finding"] for one in document["advice"]] == [1, 2, 3, 4]
    best = document["advice"][0]["proposals"][0]
    assert best["kind"] == "retract" and best["text"] in flat
    assert sorted(best["cures"]) == [1, 2, 3, 4]
    assert best["tightest_before"]["touches"] and best["tightest_before"]["guaranteed_mm"] == 0
    after = best["tightest_after"]
    assert after["margin_mm"] <= after["guaranteed_mm"]
    assert f"{after['guaranteed_mm'] - 0.05:.1f} mm guaranteed" in flat or (
        f"{after['guaranteed_mm']:.1f} mm guaranteed" in flat
    )
    assert best["moves_put_in"] == [
        {"at": 4, "kind": "linear", "to": "retract", "speed_mm_per_s": 60.0}
    ]
    (point,) = best["points"]
    assert point["name"] == "retract"
    told = zip("123456", point["display"], strict=True)
    said = ", ".join(f"j{k} {value:.1f}" for k, value in told)
    assert f"Joints of 'retract': {said} deg." in flat
    x, y, z = point["pose"]["place_mm"]
    assert f"Pose of 'retract': x {x:.1f}, y {y:.1f}, z {z:.1f} mm" in flat
    assert "not a safety function" in document["caution"]


@pytest.mark.parametrize("name", ["wrist_in_line", "collar_seam", "gate_hinge"])
def test_advice_of_other_cells_follows_the_schema(cells, capsys, name):
    out = cells / "advice.json"
    main(["advise", str(cells / name), "--json", str(out)])
    document = json.loads(out.read_text())
    jsonschema.validate(document, schema(), cls=jsonschema.Draft202012Validator)
    kinds = [p["kind"] for one in document["advice"] for p in one["proposals"]]
    assert ("twist" in kinds) == (name == "wrist_in_line")
    capsys.readouterr()


def test_comments_stay_where_they_were(cells, capsys):
    """One above a line in brackets behind another is what the library drops."""
    path = cells / "gate_hinge_no_retract" / "cell.yaml"
    last = "  - {joint: home, speed: 40 %}"
    said = f"  # above the last\n{last}  # behind the last\n  # below the last"
    text = path.read_text().replace(last, said)
    assert said in text
    path.write_text(text)
    assert main(["advise", str(path.parent), "--write", str(cells / "new")]) == 1
    capsys.readouterr()
    written = (cells / "new" / "cell.yaml").read_text()
    put_in = "  - {linear: retract, speed: 60 mm/s}\n"
    assert written.replace(put_in, "") == text and put_in + said in written


def test_exit_codes_follow_the_level_as_in_check(cells, capsys):
    cell = str(cells / "wrist_in_line")
    assert [main(["advise", cell, "--fail-on", level]) for level in ("stop", "watch")] == [0, 1]
    assert [main(["check", cell, "--fail-on", level]) for level in ("stop", "watch")] == [0, 1]
    capsys.readouterr()


def test_each_wrong_input_gives_one_clear_message(cells, capsys):
    old = str(cells / "gate_hinge_no_retract")
    file_there = cells / "a_file"
    file_there.write_text("kept")
    wrong = {
        ("advise", str(cells / "nowhere")): "nowhere",
        ("advise", old, "--write", str(file_there)): "exists already",
        ("advise", old, "--write", old): "exists already",
        ("advise", str(cells / "gate_hinge"), "--write", str(cells / "n")): "no proposal to write",
        ("advise", old, "--json", str(cells / "no_folder" / "x.json")): "cannot write",
        ("explain", str(cells / "nowhere"), "1"): "nowhere",
        ("explain", old, "0"): "there is no finding 0",
        ("explain", old, "one"): "came 'one'",
    }
    for arguments, said in wrong.items():
        assert main(list(arguments)) == 2, arguments
        error = capsys.readouterr().err
        assert said in error and "Traceback" not in error and "unforeseen" not in error
    assert file_there.read_text() == "kept"
    assert not (cells / "n").exists() and not list(cells.glob(".new-cell*"))

"""``pathsim arm`` end to end: a copy of a sample cell, described wrongly, put right by readings."""

import shutil

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pathsim import load_cell
from pathsim.cli.main import main
from pathsim.files.description_writer import _plain
from pathsim.files.new_cell import NewCell, write_new_cell
from tests.cli.noted_readings import ASK, SAMPLES, note_readings


@pytest.fixture
def cell(tmp_path):
    for name in ("shop_arm", "shop", "gate_hinge"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    return tmp_path / "gate_hinge"


def changed_lines(before, after):
    return sorted(set(before.splitlines()) ^ set(after.splitlines()))


def test_says_the_description_back(cell, capsys):
    assert main(["arm", str(cell)]) == 0
    said = capsys.readouterr().out
    assert "Stands upright at 0 0 500 mm" in said and "1403 mm" in said  # 160 + 590 + |640, 130|
    assert "joint 3" in said and "-75 deg" in said and "85 deg" in said
    assert said.count("ahead high plus") == 5 and "not a safety function" in said


def test_readings_that_agree(cell, capsys, tmp_path):
    note_readings(cell, lambda q: q, tmp_path / "seen.csv")
    assert main(["arm", str(cell), "--readings", str(tmp_path / "seen.csv"), *ASK]) == 0
    assert "agrees with these readings" in capsys.readouterr().out


def test_a_display_that_counts_otherwise_is_written_down(cell, capsys, tmp_path):
    """Joint 3 against the horizon, joint 5 the other way round: both named, then written."""

    def truth(q):
        return np.array([q[0], q[1], q[2] - q[1], q[3], -q[4], q[5]])

    seen, arm_file = tmp_path / "seen.csv", cell.parent / "shop_arm" / "arm.yaml"
    note_readings(cell, truth, seen)
    before = arm_file.read_text()
    assert main(["arm", str(cell), "--readings", str(seen), *ASK]) == 1
    said = capsys.readouterr().out
    assert "joint 5 counts the other way round" in said and "horizon" in said
    assert arm_file.read_text() == before  # nothing silently
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 0
    after = arm_file.read_text()
    assert after.startswith(before) and "readings:" in after  # all else kept, comments too
    assert "zero:" not in after  # signs and couplings alone were found
    assert main(["arm", str(cell), "--readings", str(seen), *ASK]) == 0
    arm = load_cell(cell).arm
    q = np.random.default_rng(1).uniform(-1, 1, 6)
    np.testing.assert_allclose(arm.readings.model(q), truth(q), atol=1e-12)
    # the taught points are readings too: they mean other joints now
    taught = np.radians([-7.454, 8.444, 29.472, 6.129, 53.103, -16.158])
    np.testing.assert_allclose(load_cell(cell).points["weld start"].q, truth(taught), atol=1e-9)


def test_limits_of_a_data_sheet_count_as_displayed_once_the_two_differ(cell, capsys, tmp_path):
    """Joint 2 is -80 to 110 deg by its data sheet, and the display counts it the other way."""
    seen = tmp_path / "seen.csv"
    note_readings(cell, lambda q: q * np.array([1, -1, 1, 1, 1, 1]), seen)
    before = np.degrees([load_cell(cell).arm.lower[1], load_cell(cell).arm.upper[1]])
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    low, high = before.round()
    assert (
        f"Limits now count as displayed ('limits: as displayed'): joint 2 {low:.0f} to "
        f"{high:.0f} deg on the display is {-high:.0f} to {-low:.0f} deg in the model."
    ) in said
    arm = load_cell(cell).arm
    np.testing.assert_allclose(np.degrees(arm.shown_limits[1]), before, atol=1e-9)
    np.testing.assert_allclose(np.degrees([arm.lower[1], arm.upper[1]]), -before[::-1], atol=1e-9)


def test_limits_that_are_said_to_be_the_models_stay_and_it_is_said(cell, capsys, tmp_path):
    seen, arm_file = tmp_path / "seen.csv", cell.parent / "shop_arm" / "arm.yaml"
    note_readings(cell, lambda q: q * np.array([1, -1, 1, 1, 1, 1]), seen)
    arm_file.write_text(arm_file.read_text() + "readings: {limits: of the model}\n")
    before = load_cell(cell).arm
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Limits still count as the model does: joint 2" in said
    after = load_cell(cell).arm
    np.testing.assert_array_equal(after.lower, before.lower)
    assert after.shown_limits is None


def test_symmetric_limits_are_the_same_both_ways_and_nothing_is_said(cell, capsys, tmp_path):
    seen, arm_file = tmp_path / "seen.csv", cell.parent / "shop_arm" / "arm.yaml"
    note_readings(cell, lambda q: q * np.array([1, 1, 1, -1, 1, 1]), seen)
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 0
    assert "imits" not in capsys.readouterr().out and "limits: as" not in arm_file.read_text()


def test_a_wrong_tool_is_put_right_in_its_own_line(cell, tmp_path, capsys):
    torch, seen = cell.parent / "shop_arm" / "torch.yaml", tmp_path / "seen.csv"
    note_readings(cell, lambda q: q, seen)
    right = torch.read_text()
    torch.write_text(right.replace("107.68 0 344.96 mm", "100 2 340 mm"))
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 0
    assert "tool centre point is shifted by 7.68 -2.00 4.96 mm" in capsys.readouterr().out
    lines = changed_lines(right, torch.read_text())
    assert len(lines) == 2 and all(line.startswith("tool centre point") for line in lines)
    at = load_cell(cell).torch.T_flange_tcp[:3, 3] * 1e3
    np.testing.assert_allclose(at, [107.68, 0, 344.96], atol=0.02)


def test_a_base_that_stands_elsewhere_in_the_world(cell, tmp_path):
    seen, file = tmp_path / "seen.csv", cell / "cell.yaml"
    note_readings(cell, lambda q: q, seen, frame="world")
    right = file.read_text()
    file.write_text(right.replace("at: 0 0 500 mm, turned: 0 0 0 deg", "at: 4 -3 507 mm"))
    ask = ["arm", str(cell), "--readings", str(seen), *ASK, "--frame", "world"]
    assert main([*ask, "--write"]) == 0
    np.testing.assert_allclose(load_cell(cell).T_world_base[:3, 3], [0, 0, 0.5], atol=2e-5)
    assert len(changed_lines(right, file.read_text())) == 2


def test_a_display_that_counts_poses_from_elsewhere(cell, tmp_path, capsys):
    """Poses counted from shoulder height: the description gets their frame, poses then fit."""
    seen = tmp_path / "seen.csv"
    note_readings(cell, lambda q: q, seen)
    text = seen.read_text().splitlines()
    rows = [line.split(",") for line in text[1:]]
    for row in rows:
        row[9] = f"{float(row[9]) - 430:.2f}"
    seen.write_text("\n".join([text[0], *(",".join(row) for row in rows)]) + "\n")
    assert main(["arm", str(cell), "--readings", str(seen), *ASK]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "frame of displayed poses is shifted" in said and "Or one length is wrong" in said
    assert "add --write to the same line" in said
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 0
    shown = load_cell(cell).arm.readings.T_base_shown
    np.testing.assert_allclose(shown[:3, 3], [0, 0, 0.43], atol=2e-5)
    assert main(["arm", str(cell), "--readings", str(seen), *ASK]) == 0


def test_flange_poses_need_no_torch(cell, tmp_path):
    seen = tmp_path / "seen.csv"
    note_readings(cell, lambda q: q, seen, flange=True)
    ask = ["arm", str(cell), "--readings", str(seen), *ASK]
    assert main([*ask, "--shows", "flange"]) == 0
    assert main(ask) == 1


@pytest.mark.parametrize(
    ("change", "options", "says"),
    [
        (None, ["--rotation", "euler"], "--rotation came 'euler'; expected one of: fixed x-y-z"),
        (None, ["--frame", "shop"], "expected one of: base, world"),
        (None, ["--write"], "--write needs --readings"),
        ("name,j1 deg\na,1\n", ASK, "no column 'j2' came"),
        ("", ASK, "hold no rows"),
        ("name,j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg,touches\na,1,2,3,4,5,6,\n", ASK,
         "neither a pose nor a word under 'touches'"),
        ("name,j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg,touches\na,1,2,3,4,5,6,pin\n", ASK,
         "no two rows touch the same point"),
        ("name,j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg,touches\na,1,2,nan,4,5,6,pin\n", ASK,
         "finite number"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked(cell, tmp_path, capsys, change, options, says):
    seen = tmp_path / "seen.csv"
    asked = list(options)
    if change is not None:
        seen.write_text(change)
        asked += ["--readings", str(seen)]
    assert main(["arm", str(cell), *asked]) == 2
    assert says in " ".join(capsys.readouterr().err.split())


def test_nothing_is_written_when_nothing_explains(cell, tmp_path, capsys):
    seen = tmp_path / "seen.csv"
    note_readings(cell, lambda q: q, seen)
    arm_file = cell.parent / "shop_arm" / "arm.yaml"
    wrong = arm_file.read_text().replace("a: 590 mm", "a: 640 mm").replace("d: 640 mm", "d: 600 mm")
    wrong = wrong.replace("a: 130 mm", "a: 150 mm")
    arm_file.write_text(wrong)
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 2
    out, err = capsys.readouterr()
    assert "Nothing simple explains it" in out and err.startswith("Nothing was written")
    assert arm_file.read_text() == wrong


def test_few_rows_prove_nothing(cell, tmp_path, capsys):
    """One row is explained by a shifted frame of poses whatever is really wrong."""
    seen, arm_file = tmp_path / "seen.csv", cell.parent / "shop_arm" / "arm.yaml"
    right = arm_file.read_text()
    arm_file.write_text(right.replace("a: 590 mm", "a: 610 mm"))
    note_readings(cell, lambda q: q, seen, count=1, flange=True)
    arm_file.write_text(right)
    ask = ["arm", str(cell), "--readings", str(seen), *ASK, "--shows", "flange", "--write"]
    assert main(ask) == 2
    assert "explained by chance" in capsys.readouterr().err and arm_file.read_text() == right


def test_joints_that_hardly_moved_prove_nothing(cell, tmp_path, capsys):
    seen, torch = tmp_path / "seen.csv", cell.parent / "shop_arm" / "torch.yaml"
    note_readings(cell, lambda q: q, seen)
    lines = seen.read_text().splitlines()
    c = load_cell(cell)
    rows = [lines[0]]
    rng = np.random.default_rng(2)
    for k in range(5):  # joint 2 stays within 5 degrees
        shown = np.round(rng.uniform(-60, 60, 6), 3)
        shown[1] = 20 + k
        T = c.arm.pose(np.radians(shown)) @ c.torch.T_flange_tcp
        angles = Rotation.from_matrix(T[:3, :3]).as_euler("xyz", degrees=True)
        rows.append(f"r{k}," + ",".join(f"{v:.4f}" for v in [*shown, *T[:3, 3] * 1e3, *angles]))
    seen.write_text("\n".join(rows) + "\n")
    wrong = torch.read_text().replace("107.68 0 344.96 mm", "100 2 340 mm")
    torch.write_text(wrong)
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 2
    assert "joint 2 hardly moved" in capsys.readouterr().err and torch.read_text() == wrong


def test_what_a_description_cannot_say_is_not_written(cell, tmp_path, capsys):
    """Joint 3 coupled to joint 1 already; the display couples it to joint 2 as well."""
    seen, arm_file = tmp_path / "seen.csv", cell.parent / "shop_arm" / "arm.yaml"

    def truth(q):
        return np.array([q[0], q[1], q[2] - q[1] + 0.5 * q[0], *q[3:]])

    note_readings(cell, truth, seen)
    text = arm_file.read_text() + (
        "readings: {joints: [{joint: 3, coupled to: 1, coupling: 0.5}]}\n"
    )
    arm_file.write_text(text)
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 2
    assert "coupled to two joints" in capsys.readouterr().err and arm_file.read_text() == text


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_layout_stays_or_nothing_is_written(cell, tmp_path, capsys, newline):
    seen, arm_file = tmp_path / "seen.csv", cell.parent / "shop_arm" / "arm.yaml"
    note_readings(cell, lambda q: np.array([*q[:4], -q[4], q[5]]), seen)
    more = "readings:\n  joints:\n    - {joint: 6, zero: 0.0 rad}   # as new\n"
    text = (arm_file.read_text() + more).replace("\n", newline)
    arm_file.write_bytes(b"\xef\xbb\xbf" + text.encode())
    arm_file.chmod(0o600)
    ask = ["arm", str(cell), "--readings", str(seen), *ASK, "--write"]
    assert main(ask) == 0
    after = arm_file.read_bytes().decode("utf-8-sig")
    assert after.startswith(text.rstrip()) and after.count("\r\n") == text.count("\r\n") + (
        newline == "\r\n"
    )
    assert "joint: 5, sign: -1" in after and arm_file.stat().st_mode & 0o777 == 0o600
    # a comment inside brackets would be lost: nothing is written then
    spoilt = text.replace(
        "{link: 6, mesh", "{link: 6,  # the last\n     mesh".replace("\n", newline)
    )
    arm_file.write_bytes(spoilt.encode())
    assert main(ask) == 2
    assert "cannot be kept" in capsys.readouterr().err
    assert arm_file.read_bytes() == spoilt.encode()


def test_an_interruption_leaves_the_old_file(cell, tmp_path, monkeypatch, capsys):
    seen, arm_file = tmp_path / "seen.csv", cell.parent / "shop_arm" / "arm.yaml"
    note_readings(cell, lambda q: np.array([*q[:4], -q[4], q[5]]), seen)
    right = arm_file.read_bytes()

    def interrupted(_folder, **_more):
        raise KeyboardInterrupt

    monkeypatch.setattr("pathsim.files.description_writer.load_cell", interrupted)
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 130
    assert arm_file.read_bytes() == right and "half written" in capsys.readouterr().err


def test_a_mistyped_row_is_named_and_nothing_is_written(cell, tmp_path, capsys):
    seen, arm_file = tmp_path / "seen.csv", cell.parent / "shop_arm" / "arm.yaml"
    note_readings(cell, lambda q: q, seen)
    lines = seen.read_text().splitlines()
    row = lines[4].split(",")
    true, row[3] = float(row[3]), str(float(row[3]) + 9.0)
    lines[4] = ",".join(row)
    seen.write_text("\n".join(lines) + "\n")
    before = arm_file.read_text()
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 2
    out, err = capsys.readouterr()
    said = " ".join(out.split())
    assert "row 'row 4' (line 5) does not fit the others: off by" in said
    assert f"It would fit with joint 3 {true:.2f} deg; it says {true + 9:.2f} deg." in said
    assert "zero" not in said and "tool" not in said
    assert "row 'row 4' (line 5) does not fit the others" in " ".join(err.split())
    assert arm_file.read_text() == before


def test_sign_zero_and_coupling_of_two_joints_are_written_together(cell, tmp_path, capsys):
    """Both arms counted above the horizon: five things at once, as some displays do."""

    def truth(q):
        return np.array([q[0], np.pi / 2 - q[1], -q[2] + q[1] - np.pi / 2, *q[3:]])

    seen = tmp_path / "seen.csv"
    note_readings(cell, truth, seen)
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 0
    assert "its angle to the horizon" in " ".join(capsys.readouterr().out.split())
    q = np.random.default_rng(1).uniform(-1, 1, 6)
    np.testing.assert_allclose(load_cell(cell).arm.readings.model(q), truth(q), atol=1e-5)


def test_few_readings_ask_for_the_next_posture_and_none_for_the_first(tmp_path, capsys):
    """The row that is asked for is one that can be put into the file."""
    seen = (SAMPLES / "offset_wrist/seen.csv").read_text(encoding="utf-8")
    table = [line for line in seen.splitlines() if line and not line.startswith("#")]
    few = tmp_path / "few.csv"
    options = ["arm", str(SAMPLES / "offset_wrist"), "--rotation", "fixed x-y-z", "--readings"]
    assert main([*options, str(few)]) == 2
    said = capsys.readouterr().err
    assert "are not there yet" in said and "posture 1," in said
    few.write_text("\n".join(table[:3]) + "\n", encoding="utf-8")
    assert main([*options, str(few)]) == 0
    said = capsys.readouterr().out
    [row] = [line.strip() for line in said.splitlines() if line.strip().startswith("posture 3,")]
    assert len(row.split(",")) == 8 and row.endswith("...")
    few.write_text(seen, encoding="utf-8")
    assert main([*options, str(few)]) == 0
    assert "Next, note" not in capsys.readouterr().out


def test_a_mistyped_length_is_named_and_never_written(cell, tmp_path, capsys):
    """The forearm is 640 mm; 10 mm too long in the file."""
    seen = tmp_path / "seen.csv"
    note_readings(cell, lambda q: q, seen)
    arm_file = cell.parent / "shop_arm" / "arm.yaml"
    wrong = arm_file.read_text().replace("d: 640 mm", "d: 650 mm")
    assert wrong != arm_file.read_text()
    arm_file.write_text(wrong)
    assert main(["arm", str(cell), "--readings", str(seen), *ASK]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "The length 'd of joint 4' is wrong: 640.0 mm fits, the description says 650.0 mm" in said
    )
    assert "(-10.0 mm)" in said and "Look at the drawing" in said
    assert main(["arm", str(cell), "--readings", str(seen), *ASK, "--write"]) == 2
    assert "d of joint 4 may be mistyped" in capsys.readouterr().err
    assert arm_file.read_text() == wrong


def test_a_new_cell_whose_display_is_put_right_says_that_its_examples_stand_elsewhere(
    tmp_path, capsys
):
    """Joint 2 shows 90 deg more than the drawing has, read to two decimals: -90 deg is written."""
    write_new_cell(tmp_path / "mine", NewCell(arm="drawing"))
    seen = tmp_path / "seen.csv"
    line = ["arm", str(tmp_path / "mine"), "--readings", str(seen), *ASK, "--frame", "base"]
    less = np.radians([0, 90, 0, 0, 0, 0])
    note_readings(tmp_path / "mine", lambda q: q - less, seen)
    assert main([*line, "--write"]) == 0
    assert "The example points" in capsys.readouterr().out
    text = (tmp_path / "mine" / "arm.yaml").read_text("utf-8")
    assert "zero: -90 deg" in text
    assert main(line) == 0
    # No such word where they are a person's own.
    file = tmp_path / "mine" / "cell.yaml"
    file.write_text(file.read_text("utf-8").replace("points, program]", "program]"), "utf-8")
    note_readings(tmp_path / "mine", lambda q: q * [1, 1, 1, 1, -1, 1] - less, seen)
    assert main([*line, "--write"]) == 0
    assert "The example points" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("fitted", "written"),
    [(-89.9997, -90.0), (90.0031, 90.0), (0.0042, 0.0), (-89.98, -89.98), (1.23456, 1.2346)],
)
def test_a_zero_is_written_whole_where_only_the_displays_rounding_is_missing(fitted, written):
    assert _plain(fitted) == written


def test_a_mistyped_length_under_a_wrong_sign_is_told_with_it_and_the_sign_written_after(
    cell, tmp_path, capsys
):
    """The forearm is 10 mm too long in the file, and joint 5 counts the other way round."""
    seen = tmp_path / "seen.csv"
    note_readings(cell, lambda q: q * np.array([1, 1, 1, 1, -1, 1]), seen)
    arm_file = cell.parent / "shop_arm" / "arm.yaml"
    right = arm_file.read_text()
    arm_file.write_text(right.replace("d: 640 mm", "d: 650 mm"))
    line = ["arm", str(cell), "--readings", str(seen), *ASK]
    assert main(line) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "'d of joint 4' is wrong: 640.0 mm fits" in said
    assert "joint 5 counts the other way round" in said and "Nothing simple" not in said
    assert main([*line, "--write"]) == 2
    assert "d of joint 4 may be mistyped" in capsys.readouterr().err
    arm_file.write_text(right)
    assert main([*line, "--write"]) == 0
    assert main(line) == 0


@pytest.mark.parametrize(
    ("noted", "asked", "says"),
    [
        ({}, ["--rotation", "z-y-z"], "--rotation 'fixed x-y-z'"),
        ({"frame": "world"}, ASK, "--frame world"),
        ({"flange": True}, ASK, "--shows flange"),
    ],
)
def test_rows_read_otherwise_than_meant_are_told_by_the_option_that_is_right(
    cell, tmp_path, capsys, noted, asked, says
):
    seen = tmp_path / "seen.csv"
    note_readings(cell, lambda q: q, seen, **noted)
    assert main(["arm", str(cell), "--readings", str(seen), *asked]) == 1
    assert f"with {says} they agree as they are" in " ".join(capsys.readouterr().out.split())
    assert main(["arm", str(cell), "--readings", str(seen), *asked, "--write"]) == 2
    assert says in capsys.readouterr().err

"""``pathsim arm --ask``: a person at the display is asked until the rows decide."""

import re
import shutil

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pathsim import load_cell
from pathsim.cli.main import main
from tests.cli.noted_readings import ASK, SAMPLES

HEADER = "name,j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg,x mm,y mm,z mm,r1 deg,r2 deg,r3 deg"


@pytest.fixture
def cell(tmp_path):
    for name in ("shop_arm", "shop", "gate_hinge"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    return tmp_path / "gate_hinge"


class Person:
    """Who reads what was asked for off the screen, and types what a true arm would show."""

    def __init__(self, capsys, truth, most=20):
        self.capsys, self.truth, self.most = capsys, truth, most
        self.arm = load_cell(SAMPLES / "gate_hinge")
        self.seen, self.asked, self.first = "", [], []

    def pose(self, shown):
        T = self.arm.arm.pose(self.truth(np.radians(shown))) @ self.arm.torch.T_flange_tcp
        angles = Rotation.from_matrix(T[:3, :3]).as_euler("xyz", degrees=True)
        return " ".join(f"{v:.3f}" for v in [*T[:3, 3] * 1e3, *angles])

    def __call__(self, _prompt=""):
        out = self.capsys.readouterr().out
        self.seen += out
        if self.first:
            return self.first.pop(0)
        if len(self.asked) == self.most:
            raise EOFError
        line = re.findall(r"Posture \d+: (.*?deg)\.", " ".join(self.seen.split()))[-1]
        shown = [float(v) for v in re.findall(r"j\d (-?\d+) deg", line)]
        assert len(shown) == 6
        self.asked.append(shown)
        return self.pose(shown)


def fifth_turned(q):
    return np.array([*q[:4], -q[4], q[5]])


def ask(cell, seen, *more):
    return main(["arm", str(cell), "--readings", str(seen), *ASK, "--ask", *more])


def test_an_interview_finds_a_joint_that_counts_the_other_way(cell, tmp_path, capsys, monkeypatch):
    person = Person(capsys, fifth_turned)
    monkeypatch.setattr("builtins.input", person)
    seen = tmp_path / "seen.csv"
    assert ask(cell, seen, "--write") == 0
    assert 4 <= len(person.asked) < 10
    assert seen.read_text().splitlines()[0] == HEADER
    assert len(seen.read_text().splitlines()) == 1 + len(person.asked)
    arm = load_cell(cell).arm
    q = np.array([0.1, 0.2, 0.3, 0.4, 0.5, 0.6])
    np.testing.assert_allclose(arm.readings.model(q), fifth_turned(q), atol=1e-12)


def test_each_answer_is_kept_and_asked_on_from(cell, tmp_path, capsys, monkeypatch):
    seen = tmp_path / "seen.csv"
    for _ in range(2):
        person = Person(capsys, lambda q: q, most=1)
        monkeypatch.setattr("builtins.input", person)
        ask(cell, seen)
    rows = seen.read_text().splitlines()
    assert [row.split(",")[0] for row in rows] == ["name", "posture 1", "posture 2"]
    assert rows[1].split(",")[1:7] != rows[2].split(",")[1:7]


def test_what_cannot_be_meant_is_asked_again(cell, tmp_path, capsys, monkeypatch):
    person = Person(capsys, lambda q: q, most=1)
    shown = [10.0, -20.5, 30.0, 5.0, -40.0, 60.0]
    own = " ".join(f"{v:g}" for v in shown) + " " + person.pose(shown)
    person.first = ["1 2 3", "no idea", "1,2,3,4,5,6", own.replace(".", ",")]
    monkeypatch.setattr("builtins.input", person)
    ask(cell, tmp_path / "seen.csv")
    said = " ".join((person.seen + capsys.readouterr().out).split())
    assert "came 3 values; expected 6 (x mm, y mm" in said
    assert said.count("came 2 values") == 1 and "came '1,2,3,4,5,6'" in said
    first = (tmp_path / "seen.csv").read_text().splitlines()[1].split(",")
    assert [float(v) for v in first[1:7]] == shown  # a decimal comma, and joints of their own
    assert " ".join(first[7:]) == person.pose(shown)


def test_a_file_with_other_columns_is_left_as_it_is(cell, tmp_path, capsys, monkeypatch):
    seen = tmp_path / "seen.csv"
    seen.write_text("name;j1 deg;j2 deg\na;1;2\n")
    monkeypatch.setattr("builtins.input", lambda _: pytest.fail("asked"))
    assert ask(cell, seen) == 2
    assert "other columns" in capsys.readouterr().err
    assert seen.read_text() == "name;j1 deg;j2 deg\na;1;2\n"


def test_ask_needs_a_file(cell, capsys):
    assert main(["arm", str(cell), "--ask"]) == 2
    assert "--ask needs --readings" in capsys.readouterr().err


def test_no_posture_is_asked_for_that_the_true_arm_could_not_stand_in(
    cell, tmp_path, capsys, monkeypatch
):
    """Whichever joint counts the other way: within the limits as displayed, and as the arm has."""
    arm = load_cell(cell).arm
    for joint in (1, 2, 4):

        def truth(q, joint=joint):
            return q * np.where(np.arange(6) == joint, -1.0, 1.0)

        person = Person(capsys, truth)
        monkeypatch.setattr("builtins.input", person)
        ask(cell, tmp_path / f"seen{joint}.csv")
        assert len(person.asked) >= 4
        for shown in np.radians(person.asked):
            assert (arm.room(shown) >= 0).all(), np.degrees(shown)

"""What is said of picked postures and of two ways on, aloud; and what a points file may say."""

import dataclasses
import shutil
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.arm import Arm
from pathsim.errors import CellFaults
from pathsim.findings import Level
from pathsim.findings.axis_words import asked_for, joint_values
from pathsim.findings.kinds import FindingKind
from pathsim.model import Point
from pathsim.transforms import frozen
from tests.builders import OFFSET_WRIST_ROWS, cell, joint, rail_arm

SAMPLES = Path(__file__).parents[2] / "sample_cells"
Q = np.array([0.3, 0.2, 0.4, 0.5, -0.6, 0.7])


def picked(c, *levels):
    found = [f for f in pathsim.check(c).findings if f.kind is FindingKind.POSTURE_PICKED]
    assert [f.level for f in found] == list(levels)
    return found


def with_poses(c, **named):
    points = dict(c.points)
    for name, q in named.items():
        T = c.arm.pose(q) @ c.torch.T_flange_tcp
        points[name] = Point(name, None, frozen(T))
    return dataclasses.replace(c, points=points)


def test_one_point_that_comes_out_differently_each_time_says_both():
    far = Q + [0, 0, 0, 0, 0, -4.5]
    c = with_poses(cell({"home": Q, "far": far}, [joint("p"), joint("far"), joint("p")]), p=Q + 0.1)
    (finding,) = picked(c, Level.WATCH)
    assert "'p' is a pose" in finding.text and finding.numbers["points"] == 1
    assert "taken in move 1 j1 22.9" in finding.text and "taken in move 3 j1 22.9" in finding.text
    assert "j6 45.8" in finding.text and "j6 -314.2" in finding.text
    assert "Teach its joint values." in finding.text and finding.move == 1
    same = with_poses(cell({"home": Q}, [joint("p"), joint("home"), joint("p")]), p=Q + 0.1)
    assert picked(same, Level.WATCH)[0].text.count("taken") == 2  # once, and "values taken"


def test_several_points_are_one_finding_that_names_each():
    c = with_poses(cell({"home": Q}, [joint("a"), joint("home"), joint("b")]), a=Q + 0.1, b=Q - 0.1)
    (finding,) = picked(c, Level.WATCH)
    assert finding.text.startswith("2 points are poses") and finding.numbers["points"] == 2
    for name in ("'a': taken j1 22.9, j2 17.2, j3 28.6, j4 34.4, j5 -28.6, j6 45.8 deg (",
                 "'b': taken j1 11.5"):  # fmt: skip
        assert name in finding.text
    assert finding.text.count("To keep it, put") == 2


def test_a_search_that_finds_one_is_a_note_and_no_alarm():
    narrow = np.stack([Q - 0.5, Q + 0.5], axis=1)
    arm = Arm.from_dh(OFFSET_WRIST_ROWS, "standard", limits=narrow,
                      speed=np.full(6, 3.0), acceleration=np.full(6, 8.0))  # fmt: skip
    c = with_poses(cell({"home": Q}, [joint("p")], arm=arm), p=Q + 0.1)
    found = pathsim.check(c)
    (finding,) = [f for f in found.findings if f.kind is FindingKind.POSTURE_PICKED]
    assert "it may have missed others" in finding.text
    assert finding.level is (Level.WATCH if "several sets" in finding.text else Level.NOTE)


def test_names_of_joints_are_those_of_the_points_file():
    c = cell({"home": np.append([0.5], Q)}, [joint("home")], arm=rail_arm())
    assert joint_values(c, np.append([0.5], Q)).startswith("j1 17.2, j2 11.5")
    point = Point("p", None, np.eye(4), about=((6, np.radians(-170.0)),))
    assert asked_for(c, point) == "j6 about -170 deg"


@pytest.fixture
def rail(tmp_path):
    for name in ("hanging_rail", "bench_arm", "shop_arm"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    return tmp_path / "hanging_rail"


def faults(folder):
    with pytest.raises(CellFaults) as caught:
        pathsim.load_cell(folder)
    return [f for f in caught.value.faults if f.file.endswith("points.csv")]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("about j6 deg", "about j6", "has no unit"),
        ("about j6 deg", "about j7 deg", "came 'about j7 deg'"),
        ("about j6 deg", "about j4 deg", "'about j4' came twice"),
        ("ahead high plus,0,180\nweld", "ahead high plus,0,4000\nweld", "came 4000 deg"),
        ("ahead high plus,0,180\nweld", "ahead high plus,0,x\nweld", "came 'x'"),
        ("ahead high plus,0,180\napp", "ahead back plus,0,180\napp", "'back' is now 'behind'"),
    ],
)
def test_faults_of_what_stands_beside_a_pose(rail, old, new, says):
    path = rail / "points.csv"
    text = path.read_text()
    path.write_text(text.replace(old, new, 1))
    found = faults(rail)
    assert found and says in found[0].came and found[0].line is not None


def test_rough_values_without_poses_are_refused(tmp_path):
    for name in ("gate_hinge", "shop", "shop_arm"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    path = tmp_path / "gate_hinge" / "points.csv"
    lines = path.read_text().splitlines()
    path.write_text("\n".join([lines[0] + ",ABOUT  J6 [deg]", *(v + ",0" for v in lines[1:])]))
    (fault,) = faults(tmp_path / "gate_hinge")
    assert "without columns for a pose" in fault.came


def test_a_pose_of_an_arm_whose_postures_have_no_names_takes_rough_values(tmp_path):
    for name in ("offset_wrist", "offset_wrist_arm", "gate_hinge", "shop", "shop_arm"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    folder = tmp_path / "offset_wrist"
    path, q = folder / "points.csv", pathsim.load_cell(folder).points["approach"].q
    cell_ = pathsim.load_cell(folder)
    T = cell_.arm.pose(q) @ cell_.torch.T_flange_tcp
    from scipy.spatial.transform import Rotation

    x, y, z, w = Rotation.from_matrix(T[:3, :3]).as_quat()
    numbers = ",".join(f"{v:.8f}" for v in (*(1e3 * T[:3, 3]), w, x, y, z))
    lines = path.read_text().splitlines()
    about = ",".join(f"about j{k} deg" for k in range(1, 7))
    shown = cell_.arm.readings.shown(q)  # this display counts otherwise than the model
    rough = ",".join(f"{round(np.degrees(v))}" for v in shown)
    rows = [lines[0] + ",x mm,y mm,z mm,qw,qx,qy,qz,posture," + about]
    rows += [v + "," * 14 if not v.startswith("approach") else
             f"approach,,,,,,,{numbers},,{rough}" for v in lines[1:]]  # fmt: skip
    path.write_text("\n".join(rows) + "\n")
    file = folder / "cell.yaml"
    file.write_text(file.read_text().replace(
        "{file: points.csv}",
        "{file: points.csv, rotation: quaternion w-x-y-z, frame: base}",
    ))  # fmt: skip
    result = pathsim.check(pathsim.load_cell(folder))
    (note,) = [f for f in result.findings if f.kind is FindingKind.POSTURE_PICKED]
    assert note.level is Level.NOTE and "a search found" in note.text and result.is_clear
    np.testing.assert_allclose(result.trajectory.tracks[0].q[-1], q, atol=1e-4)
    path.write_text(path.read_text().replace(f"{numbers},,", f"{numbers},ahead,"))
    assert "have no names" in faults(folder)[0].came

"""A table of two axes in files: read, written, and every slip said."""

import dataclasses

import numpy as np
import pytest

from pathsim import load_cell, pose_at, save_cell
from pathsim.errors import CellError, CellFaults
from pathsim.files.cell_differences import differences
from pathsim.model import Group, Point, Role, StandsOn
from pathsim.model.wanted_position import WantedPosition
from tests.builders import body, box, cell, joint, linear, seam, turning_table

HOME = [0.1, 0.3, -0.1, 0.1, 0.9, 0.2]
POSE = pose_at([0.8, 0.1, 0.5], turned=[3.0, 0.1, 0.2])


def tilted():
    table = turning_table((0.9, 0.0, 0.2), (0.1, 0.0, 1.0), tilt=((0.9, 0.2, 0.1), (0.0, 1.0, 0.1)))
    moves = [
        linear("start"),
        dataclasses.replace(seam("end"), position=WantedPosition.PA),
        dataclasses.replace(seam("on"), position=WantedPosition.AT_START),
        joint("home"),
    ]
    points = {
        "home": [*HOME, 0.0, 0.0],
        "start": [*HOME, 0.1, -0.2],
        "end": [*HOME, 0.3, -0.4],
        "on": Point("on", None, POSE, np.array([0.2, -0.3])),
    }
    bodies = (
        body(box(), "stand", at=(3, 0, 0), bears="tilt frame"),
        body(box(), "frame", Role.TABLE, at=(3, 0, 1), on_tilt=True, bears="turning table"),
        body(box(), "plate", Role.TABLE, at=(3, 0, 2), on_table=True),
        dataclasses.replace(body(box(), "stop", at=(3, 1, 2), on_tilt=True), group="jig"),
    )
    links = (None, *(box((0.1, 0.1, 0.2)) for _ in range(6)))
    made = cell(points, moves, table=table, links=links)
    groups = (Group("jig", pose_at([3, 1, 1]), on_tilt=True),)
    return dataclasses.replace(made, bodies=bodies, groups=groups)


def test_all_of_it_comes_back(tmp_path):
    made = tilted()
    loaded = load_cell(save_cell(made, tmp_path / "cell"))
    assert list(differences(made, loaded)) == []
    assert loaded.table.tilt is not None
    assert [b.stands_on for b in loaded.bodies] == [
        StandsOn.FLOOR, StandsOn.TILT, StandsOn.TABLE, StandsOn.TILT,
    ]  # fmt: skip
    header = (tmp_path / "cell" / "points.csv").read_text().splitlines()[0]
    assert "tilt rad,table rad" in header


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("tilt: {at", "tild: {at", "tilt"),
        ("bears: tilt frame", "bears: turning table", "stands on a tilt axis"),
        ("on: tilt frame, bears: turning table", "on: turning table, bears: tilt frame",
         "'on' and 'bears'"),
        ("position: PA", "position: PF", "'as at start'"),
        ("position: PA", "position: flat", "'PA'"),
    ],
)  # fmt: skip
def test_slips_in_the_cell_file(tmp_path, old, new, words):
    folder = save_cell(tilted(), tmp_path / "cell")
    path = folder / "cell.yaml"
    text = path.read_text()
    assert old in text, text
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(CellFaults) as caught:
        load_cell(folder)
    assert words in str(caught.value)


def test_the_tilt_is_missed_where_points_do_not_say_it(tmp_path):
    folder = save_cell(tilted(), tmp_path / "cell")
    path = folder / "points.csv"
    path.write_text(path.read_text().replace("tilt rad,", "", 1))
    with pytest.raises(CellFaults, match="no column 'tilt' came"):
        load_cell(folder)


def test_words_for_a_tilt_that_is_not_there(tmp_path):
    made = tilted()
    plain = dataclasses.replace(
        made, table=dataclasses.replace(made.table, tilt=None), bodies=(), groups=(),
        points={name: Point(name, np.zeros(7)) for name in made.points},
    )  # fmt: skip
    folder = save_cell(plain.with_body(body(box(), "jig", on_table=True)), tmp_path / "cell")
    path = folder / "cell.yaml"
    path.write_text(path.read_text().replace("on: turning table", "on: tilt frame", 1))
    with pytest.raises(CellFaults, match="the cell's table has no tilt axis"):
        load_cell(folder)
    with pytest.raises(CellError, match="no tilt axis"):
        plain.with_body(body(box(), "jig", on_tilt=True))
    with pytest.raises(CellError, match="no tilt axis"):
        plain.with_body(body(box(), "jig", bears="tilt frame"))
    with pytest.raises(CellError, match="what bears a table that tilts is on its tilt frame"):
        made.with_body(body(box(), "jig", bears="turning table"))
    with pytest.raises(CellError, match="on_tilt"):
        body(box(), "jig", on_tilt=True, on_table=True)


def test_a_position_without_a_table_is_a_fault(tmp_path):
    made = cell({"home": HOME}, [linear("start"), seam("end")],
                links=(None, *(box((0.1, 0.1, 0.2)) for _ in range(6))))  # fmt: skip
    folder = save_cell(made, tmp_path / "cell")
    path = folder / "cell.yaml"
    text = path.read_text()
    path.write_text(text.replace("seam: end", "position: PA, seam: end", 1))
    with pytest.raises(CellFaults, match="in a cell without a turning table"):
        load_cell(folder)


@pytest.mark.parametrize("frame", ["tilt frame", "turning table"])
def test_poses_counted_from_the_table_or_its_tilt(tmp_path, frame):
    made = tilted()
    folder = save_cell(made, tmp_path / "cell")
    path = folder / "cell.yaml"
    path.write_text(path.read_text().replace("frame: base", f"frame: '{frame}'"))
    loaded = load_cell(folder)
    values = np.array([0.2, -0.3])
    tilt = made.table.tilt
    T = tilt.motion(0.2) @ tilt.T_world_axis
    if frame == "turning table":
        T = made.table.motion(values) @ made.table.T_world_axis
    expected = np.linalg.inv(made.T_world_base) @ T @ POSE
    np.testing.assert_allclose(loaded.points["on"].T_base_tcp, expected, atol=1e-9)

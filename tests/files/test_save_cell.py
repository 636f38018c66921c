"""``save_cell``: what it writes is read back as an equal cell, or nothing is written."""

import dataclasses
import io
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from rich.console import Console

import pathsim
from pathsim.arm import Arm, Dimensions, ReadingsMap
from pathsim.errors import CannotCheck, CellError
from pathsim.files import load_cell, save_cell
from pathsim.files.cell_differences import differences
from pathsim.files.exact_numbers import before_scaling, fixed_angles, text
from pathsim.files.mesh_writer import ply_bytes
from pathsim.files.sized_links import sized_links
from pathsim.mesh_files import read_mesh
from pathsim.model import (
    Cable,
    Cell,
    DwellCounts,
    Group,
    Hose,
    Mesh,
    Move,
    Pattern,
    Point,
    Program,
    Weave,
)
from pathsim.model.assembly import Assembly
from pathsim.model.labels import Labels
from pathsim.model.process import Process
from pathsim.model.scenery import ToDo
from pathsim.model.shared_room import SharedBall, SharedRoom
from pathsim.model.wanted_contact import Search, Station, StationKind
from pathsim.model.weave import TravelInDwell
from pathsim.report import result_as_json
from pathsim.report.text import print_result
from pathsim.transforms import inverse, pose_at, rotation_about, rotation_from_angles
from tests.builders import body, box, cell, joint, linear, rail_arm, shop_arm, turning_table
from tests.files.test_sized_links import girth_of

SAMPLES = Path(__file__).parents[2] / "sample_cells"
CELLS = sorted(path.parent.name for path in SAMPLES.glob("*/cell.yaml"))
#: Taught as poses, which are written as quaternions: the one sample whose bits may differ.
POSES = ("hanging_rail",)


def said(result):
    """Text and JSON of a result, without the hash over its files, which are others."""
    console = Console(file=io.StringIO(), width=120)
    print_result(result, console)
    document = json.loads(result_as_json(result))
    document["cell"].pop("sha256")
    lines = console.file.getvalue().splitlines()
    return [line for line in lines if not line.startswith("The cell's files: sha256")], document


def bits(result):
    """All of a result's numbers that decide anything."""
    pairs = [pair.clearance for move in result.moves for pair in (*move.pairs, *move.own)]
    return (
        result.trajectory.t.tobytes(),
        result.trajectory.q.tobytes(),
        [(found.lower, found.upper, found.time) for found in pairs],
    )


@pytest.mark.parametrize("name", CELLS)
def test_every_sample_comes_back(name, tmp_path):
    original = load_cell(SAMPLES / name)
    folder = save_cell(original, tmp_path / name)
    loaded = load_cell(folder)
    assert list(differences(original, loaded)) == []
    for one, other in zip(original.bodies, loaded.bodies, strict=True):
        assert one.mesh.digest == other.mesh.digest
        assert np.array_equal(one.T_world_body, other.T_world_body)
    assert {Path(file).parts[0] for file in loaded.files} == {name}  # nothing lies outside
    before, after = pathsim.check(original), pathsim.check(loaded)
    assert said(after) == said(before)
    if name in POSES:
        assert np.abs(after.trajectory.q - before.trajectory.q).max() < 1e-12
    else:
        assert bits(after) == bits(before)


def everything() -> Cell:
    """A cell that uses all that a cell file can say, with numbers that are no round ones."""
    weave = Weave(
        "the wide one", Pattern.CRESCENT, 0.0021 / 3, 2.1, 0.03, 0.05, DwellCounts.INSIDE,
        0.01, TravelInDwell.STANDS, -0.21,
    )  # fmt: skip
    narrow = Weave("narrow: #1", Pattern.SINE, 0.0007, 1.7)
    seam = {"kind": "linear", "arc_on": True, "weave": weave, "speed": 0.007 / 3}
    moves = (
        joint("a b, c", speed=0.37),
        linear('say "hi"', speed=0.11),
        Move(target="123", off_part=0.0041, wire_end=0.0061, **seam),
        Move(target="q", joined=True, off_part=0.0041, wire_end=0.0043, **seam),
        Move(**{**seam, "kind": "arc"}, target="via end", via="yes", joined=True,
             off_part=0.003, wire_end=0.0043, crater=0.31, wait=0.7),
        Move("linear", "home", 0.013, arc_on=True, weave=narrow, surfacing=True),
        Move("linear", "q", 0.2, rounding=0.0033),
        joint("home"),
    )  # fmt: skip
    readings = ReadingsMap.of(
        [1, 1, -1, 1, -1, 1, 1], [0, 0.1, -0.7, 1 / 3, 0, 0.2, 0], [(3, 2, -1.0)],
        pose_at([0.1, 0.2, 0.3], turned=[0.4, 0.5, 0.6]),
    )  # fmt: skip
    arm = rail_arm().with_readings(readings)
    arm = arm.with_shown_limits(np.column_stack([np.full(7, -3.1), np.linspace(2.9, 3.3, 7)]))
    rng = np.random.default_rng(7)
    names = ("home", "a b, c", 'say "hi"', "123", "q", "via end", "yes")
    points = {name: Point(name, rng.uniform(-1, 1, 8)) for name in names}
    T = pose_at([0.6, 0.1, 0.8], turned=[2.9, 0.3, -0.4])
    held = np.array([0.3, -0.2])
    points["posed"] = Point("posed", None, T, held, about=((4, 0.5), (6, 3.0)))
    points["both"] = Point("both", rng.uniform(-1, 1, 8), T)
    bodies = (
        dataclasses.replace(
            body(box((0.11, 0.3, 0.7)), "jig: left", at=(1 / 3, 0.1, 0.2)), known_to=0.0014
        ),
        body(box((0.11, 0.3, 0.7)), "jig: right", at=(1 / 7, -0.1, 0.2)),
        body(box(), "plate", on_table=True),
        dataclasses.replace(
            body(box((0.1, 0.2, 0.3)), "post", at=(0.7, 1 / 3, 0.2)),
            group="jig 1",
            known_to=0.0011 / 3 + 0.0007,
        ),
        dataclasses.replace(
            body(box((0.1, 0.2, 0.3)), "stop", at=(1.7, 1 / 3, 0.2), on_table=True),
            group="on it",
        ),
        body(box(), "bed", bears="arm"),
        body(box(), "stand", bears="turning table"),
    )
    links = (None, *(box((0.1, 0.1 + k / 30, 0.2)) for k in range(6)), None)
    made = cell(points, moves, arm=arm, links=links, table=turning_table((1, 0, 0)))
    wanted = (
        Move("linear", "123", 0.2),
        Move("linear", "home", 0.013, search=Search("post", overtravel=0.0041, margin=0.0)),
        Move("linear", "q", 0.013, search=Search("plate", "nozzle"), wire_end=0.0071),
        Move("linear", "home", 0.05, station="stop", wait=0.3),
    )
    return dataclasses.replace(
        made,
        bodies=bodies,
        program=Program("home", (*moves, *wanted)),
        stations=(
            Station("stop", StationKind.CUTTER, "nozzle", 0.013, 0.0, 0.0171),
            Station("jig: left", StationKind.GAUGE, "wire", 0.021, also=("post", "plate")),
        ),
        name="All: of # it",
        T_world_base=pose_at([0.1, 0.2, 0.3], turned=[0.3, -0.4, 3.0]),
        tip_jerk=123.4,
        natural_frequency=8.7,
        override=0.37,
        hoses=(Hose(3, 5.1), Hose(6, 7.7, -0.31)),
        process=Process(0.123, 22.3, 187.0, 0.77, 0.93),
        cables=(
            Cable("hose", 7, [[0, 0, 0.1], [0.1, 1 / 3, 0.2]], 0.013, 0.021, 0.017),
            Cable("lead", 3, [[0, 0, 0.1], [0.1, 0, 0.2]], 0.013),
        ),
        approximate_links=(2, 4),
        links_drawn_to=(0.0, 1e-4 / 3, 0.0, 0.0, 2e-4, 0.0, 0.0, 0.0),
        assemblies=(Assembly("all/jig: 1.step", (("base: #1", ("post", "plate")), ("spare", ()))),),
        shared_room=SharedRoom(((7, 6),), ((2, 3),), SharedBall(5, (0.1, 0.0, -0.2), 0.0731)),
        weaves=("narrow: #1", "the wide one"),
        to_do=(ToDo.TORCH, ToDo.POINTS),
        labels=Labels(
            "A_1",
            "left: post #2",
            "17",
            "C",
            ("first: tack", "then weld"),
        ),
        groups=(
            Group(
                "jig 1",
                pose_at([0.7, 0.1, 1 / 3], turned=[0.01, -0.2, 1.3]),
                False,
                0.0011 / 3,
                [[-1.0, -1.0, -2 / 3], [1.0, 1.0, 2 / 3]],
            ),
            Group("on it", pose_at([1.6, 0.1, 1 / 3], turned=[0.0, 0.0, -1.3]), on_table=True),
        ),
    )


def test_everything_that_a_cell_can_say_comes_back(tmp_path):
    made = everything()
    loaded = load_cell(save_cell(made, tmp_path / "cell"))
    assert list(differences(made, loaded)) == []
    assert loaded.program.moves[4].wait == 0.7
    assert loaded.points["posed"].about == made.points["posed"].about
    assert loaded.arm.shown_limits.tobytes() == made.arm.shown_limits.tobytes()
    # equal bodies share a file, as they share a mesh
    assert len(list((tmp_path / "cell" / "meshes").iterdir())) == 6 + 1 + 1 + 2


#: One change to each field of the cell above. Whatever is not compared would get lost unseen.
CHANGES = {
    "name": "x", "T_world_base": np.eye(4), "tip_speed": 0.7, "tip_acceleration": 0.9,
    "tip_jerk": np.inf, "natural_frequency": None, "override": 0.38, "process": None,
    "cables": (), "links_drawn_to": (), "assemblies": (),
    "approximate_links": (2,), "hoses": (), "shared_room": SharedRoom(), "weaves": (), "to_do": (),
    "margins": pathsim.model.Margins(0.01, 0.0016, 0.0015),
}  # fmt: skip


@pytest.mark.parametrize("name", [field.name for field in dataclasses.fields(Cell)])
def test_no_field_is_left_out_of_the_comparison(name):
    made = everything()
    others = {
        "arm": made.arm.with_readings(ReadingsMap.identity(7)),
        "torch": dataclasses.replace(made.torch, wire_length=0.016),
        "points": {**made.points, "posed": Point("posed", np.zeros(8))},
        "program": Program("q", made.program.moves),
        "link_meshes": (None, None, *made.link_meshes[2:]),
        "bodies": made.bodies[:-1],
        "stations": made.stations[:1],
        "groups": (dataclasses.replace(made.groups[0], known_to=0.001), *made.groups[1:]),
        "table": turning_table((1, 0.1, 0)),
        "labels": dataclasses.replace(made.labels, job="another"),
    }
    change = {**CHANGES, **others}.get(name)
    if name in ("fingerprint", "files"):
        assert not list(differences(made, dataclasses.replace(made, **{name: ()})))
    else:
        changed = dataclasses.replace(made, **{name: change})
        assert next(differences(made, changed)).startswith(f"cell.{name}")


def test_an_arm_of_sized_solids_keeps_what_they_share(tmp_path):
    """Saved without it, links that share a joint's room would touch; with it they are told."""
    size = Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10)
    arm = Arm.from_dimensions(
        size, limits=np.tile([-2.0, 2.0], (6, 1)), speed=np.full(6, 3.0), acceleration=np.full(6, 8)
    )
    sized = sized_links(size, girth_of(0.17, 0.095, 0.08, 0.06))
    q = np.zeros(6)
    made = cell({"home": q, "on": q + 0.3}, [joint("on"), joint("home")], arm=arm,
                links=sized.meshes)  # fmt: skip
    made = dataclasses.replace(made, shared_room=sized.shared, approximate_links=tuple(range(7)))
    loaded = load_cell(save_cell(made, tmp_path / "cell"))
    assert loaded.shared_room == made.shared_room != SharedRoom()
    assert said(pathsim.check(loaded)) == said(pathsim.check(made))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda c: {"arm": dataclasses.replace(c.arm, shown_limits=None,
                    speed=np.full(7, np.inf))}, "the rail has no largest speed"),
        (lambda c: {"arm": dataclasses.replace(c.arm, shown_limits=None,
                    upper=np.append(np.full(6, 3.0), np.inf))}, "joint 6 has no limits"),
        (lambda c: {"arm": c.arm.with_readings(ReadingsMap.of(np.full(7, 2.0), np.zeros(7)))},
         "counts the rail by 2"),
        (lambda c: {"arm": c.arm.with_readings(
            ReadingsMap.of(np.ones(7), np.zeros(7), [(3, 2, 1.0), (3, 1, 1.0)]))},
         "couples joint 3 to 2 others"),
        (lambda c: {"arm": c.arm.with_readings(ReadingsMap.of(np.ones(7), np.ones(7)))},
         "another zero for the rail"),
        (lambda c: {"weaves": (*c.weaves, "idle")}, "no seam has the weave 'idle'"),
        (lambda _: {"bodies": (body(Mesh(box().vertices, box().faces, True)),)}, "cut out"),
        (lambda _: {"bodies": (dataclasses.replace(
            body(box()), T_world_body=pose_with_error(3e-7)),)}, "off a pure turn by 3e-07"),
        (lambda _: {"bodies": (body(box(), " block"),)}, r"cell.bodies\[0\].name"),
        (lambda _: {"bodies": (body(box(), at=(0, 0, 200.0)),)}, "at most 100 m"),
        (lambda c: {"points": {**c.points, "#x": Point("#x", np.zeros(8))}}, "cell.points"),
        (lambda c: {"points": {**c.points, "p": Point("p", T_base_tcp=np.eye(4))}}, "held axes"),
        (lambda _: {"process": Process()}, "neither wire feed nor voltage"),
        (lambda _: {"cables": (Cable("LINK 2", 3, [[0, 0, 0], [0, 0, 1]], 0.01),)}, "taken"),
    ],
)  # fmt: skip
def test_what_files_cannot_hold_is_refused_and_nothing_is_left(tmp_path, change, words):
    made = everything()
    plain = Program("home", tuple(move for move in made.program.moves if not move.wants_contact))
    made = dataclasses.replace(made, stations=(), program=plain)
    made = dataclasses.replace(made, **change(made))
    with pytest.raises(CannotCheck, match=words) as caught:
        save_cell(made, tmp_path / "cell")
    assert str(caught.value).startswith("the cell cannot be saved: ")
    assert "unfinished" not in str(caught.value) and "\n" not in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def pose_with_error(error):
    """A pose that is none by ``error``, as a file of few digits brings it."""
    T = np.eye(4)
    T[0, 0] += error
    return T


def test_two_weaves_of_one_name_are_refused(tmp_path):
    made = everything()
    moves = list(made.program.moves)
    other = dataclasses.replace(moves[5].weave, name="the wide one")
    moves[5] = dataclasses.replace(moves[5], weave=other)
    made = made.with_program("home", *moves)
    with pytest.raises(CannotCheck, match="two weaves are called 'the wide one'"):
        save_cell(made, tmp_path / "cell")


@pytest.mark.parametrize("kind", ["folder", "empty folder", "file", "link"])
def test_nothing_is_ever_replaced(tmp_path, kind):
    place = tmp_path / "cell"
    if kind == "file":
        place.write_text("mine")
    elif kind == "link":
        place.symlink_to(tmp_path / "nowhere")
    else:
        place.mkdir()
        if kind == "folder":
            (place / "cell.yaml").write_text("mine")
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(CannotCheck, match="exists already and was not replaced"):
        save_cell(everything(), place)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_folder_needs_a_place_and_a_cell(tmp_path):
    with pytest.raises(CannotCheck, match="there is no folder"):
        save_cell(everything(), tmp_path / "no" / "cell")
    with pytest.raises(CellError, match="expected a Cell"):
        save_cell("cell", tmp_path / "cell")


@pytest.mark.parametrize("breaks", range(1, 15))
def test_cut_off_at_any_file_nothing_stands_there(tmp_path, monkeypatch, breaks):
    """Each rename of the writing fails once; the last one is that of the whole folder."""
    count = 0

    def failing(real):
        def rename(self, target):
            nonlocal count
            count += 1
            if count == breaks:
                raise OSError(28, "No space left on device")
            return real(self, target)

        return rename

    monkeypatch.setattr(Path, "replace", failing(Path.replace))
    monkeypatch.setattr(Path, "rename", failing(Path.rename))
    with pytest.raises(CannotCheck, match="No space left on device"):
        save_cell(everything(), tmp_path / "cell")
    assert list(tmp_path.iterdir()) == []


def test_a_relative_folder_and_a_folder_from_the_working_directory(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert save_cell(everything(), "cell") == Path("cell")
    assert sorted(path.name for path in Path("cell").iterdir()) == [
        "arm.yaml", "cell.yaml", "meshes", "points.csv", "torch.yaml",
    ]  # fmt: skip


numbers = st.floats(-1e3, 1e3).filter(lambda x: x == 0 or abs(x) > 1e-200)


@given(arrays(float, 20, elements=numbers), st.sampled_from([1e-3, 1e-2, 0.0254, 1.0]))
def test_numbers_of_a_file_come_back_to_the_bit(written, scale):
    """What was read from a file in a unit is written in it so that it is read the same."""
    read = written * scale
    assert (before_scaling(read, scale) * scale).tolist() == read.tolist()


@given(arrays(float, 20, elements=numbers), st.sampled_from([1e-3, 1e-2, 0.0254, 1.0]))
def test_any_number_comes_back_to_one_bit(values, scale):
    off = np.abs(before_scaling(values, scale) * scale - values)
    assert (off <= np.spacing(np.abs(values))).all()


@given(arrays(float, 3, elements=st.floats(-np.pi, np.pi)))
def test_rotations_come_back_from_their_angles(angles):
    R = rotation_from_angles("fixed x-y-z", angles)
    again = rotation_from_angles("fixed x-y-z", fixed_angles(R))
    assert np.abs(again - R).max() < 1e-12


def test_most_rotations_come_back_to_the_last_bit():
    """One angle a bit further does it where the plain formula does not: there 4 of 10 fail."""
    rng, exact = np.random.default_rng(5), 0
    for angles in rng.uniform(-1.5, 1.5, (100, 3)):
        R = rotation_from_angles("fixed x-y-z", angles)
        exact += np.array_equal(rotation_from_angles("fixed x-y-z", fixed_angles(R)), R)
    assert exact >= 90


@pytest.mark.parametrize("y", [np.pi / 2, -np.pi / 2, np.pi / 2 - 1e-10, np.pi / 2 - 1e-8])
def test_rotations_with_two_axes_in_one_line(y):
    R = rotation_from_angles("fixed x-y-z", [0.7, y, -0.2])
    assert np.abs(rotation_from_angles("fixed x-y-z", fixed_angles(R)) - R).max() < 1e-9


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_text_has_all_digits(value):
    assert float(text(value)) == value


@pytest.mark.parametrize("unit", ["mm", "cm", "m", "in"])
def test_ply_has_all_bits_and_all_triangles(unit):
    rng = np.random.default_rng(3)
    mesh = Mesh(rng.normal(size=(50, 3)).astype(np.float32) * 0.1, rng.integers(0, 50, (80, 3)))
    again = read_mesh(Path("a.ply"), unit, ply_bytes(mesh, unit))
    assert np.array_equal(again.faces, mesh.faces)
    off = np.abs(again.vertices - mesh.vertices)
    assert (off <= np.spacing(np.abs(mesh.vertices))).all()
    if unit == "m":
        assert again.vertices.tobytes() == mesh.vertices.tobytes()


def test_a_chain_in_full_is_the_arm_that_it_came_of():
    """The fourth form of an arm description against the chain's own product of poses."""
    arm, q = shop_arm(), np.linspace(-1, 1, 6)
    T = np.eye(4)
    for k in range(6):
        T = T @ arm.fixed[k] @ pose_at(rotation=rotation_about([0, 0, 1.0], q[k]))
    assert np.allclose(T @ arm.ends[-1], arm.pose(q), atol=1e-12)
    assert np.allclose(inverse(T) @ T, np.eye(4))

"""Records of a cell check themselves: what is valid is taken, each corruption is refused."""

import dataclasses
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim.arm import Arm
from pathsim.check import check
from pathsim.clearance import LeftOut
from pathsim.clearance.profile import clearance_profile
from pathsim.errors import ArmError, CellError, MeshError, PathsimError
from pathsim.files import load_cell
from pathsim.findings import Finding
from pathsim.model import (
    Body,
    Cable,
    Cell,
    DwellCounts,
    Margins,
    Mesh,
    Move,
    MoveKind,
    Pattern,
    Point,
    Program,
    Role,
    Torch,
    TorchPiece,
    TurningTable,
    Weave,
)
from pathsim.model.process import Process
from pathsim.transforms import exp_rotation, pose
from tests.builders import (
    SHOP_ROWS,
    box,
    cell,
    joint,
    linear,
    rail_arm,
    seam,
    shop_arm,
    torch,
    turning_table,
)

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])
coordinate = st.floats(-3, 3)
vectors = st.tuples(coordinate, coordinate, coordinate)
names = st.text(st.characters(codec="ascii", exclude_categories=["C"]), min_size=1, max_size=12)
names = names.filter(str.strip)
poses = st.builds(lambda turn, place: pose(exp_rotation(np.array(turn)), place), vectors, vectors)
MESH = box()
NAN = float("nan")


def turned(T, R):
    """``T`` with another rotation part."""
    found = np.array(T)
    found[:3, :3] = R
    return found


#: What makes of a pose something that is none, and a word of what is said about it.
SPOILT = [
    (lambda T: turned(T, 1.1 * T[:3, :3]), "scales by 1.1"),
    (lambda T: turned(T, T[:3, :3] * [1.0, 1.0, 1.01]), "is no rotation"),
    (lambda T: turned(T, T[:3, :3] @ np.diag([1, 1, -1])), "mirrors"),
    (lambda T: turned(T, -T[:3, :3]), "mirrors"),
    (lambda T: T + np.diag([0, 0, 0, 0.5]), "last row"),
    (lambda T: T * np.where(np.eye(4)[::-1] > 0, NAN, 1.0), "not finite"),
    (lambda T: T[:3], "an array of shape (3, 4)"),
    (lambda T: T[None], "an array of shape (1, 4, 4)"),
    (lambda T: T.tolist()[:3] + [[0, 0, 1]], "expected a pose (4, 4)"),
    (lambda T: T.astype(str), "expected a pose (4, 4)"),
]


def holders(T):
    """One of each record that has a pose, and the field's name."""
    mesh = MESH
    return [
        (lambda: Body("clamp", Role.CLAMP, mesh, T), "body 'clamp': T_world_body"),
        (lambda: Point("a", None, T), "point 'a': T_base_tcp"),
        (lambda: Torch("t", (TorchPiece("n", mesh),), T, 0.015, 0.001), "torch: T_flange_tcp"),
        (lambda: TurningTable(T, -1.0, 1.0, 1.0, 1.0), "turning table: T_world_axis"),
        (lambda: dataclasses.replace(cell({"home": HOME}, [joint("home")]), T_world_base=T),
         "cell: T_world_base"),
    ]  # fmt: skip


@given(T=poses)
@settings(max_examples=30, deadline=None)
def test_poses_that_only_turn_and_move_are_taken_and_no_other(T):
    for make, _ in holders(T):
        make()
    for spoil, says in SPOILT:
        bad = spoil(T)
        for make, field in holders(bad):
            with pytest.raises(CellError, match=re.escape(says)) as refused:
                make()
            assert str(refused.value).startswith(field)
            assert "\n" not in str(refused.value)


@given(
    name=names, amplitude=st.floats(5e-5, 0.1), frequency=st.floats(0.05, 100),
    dwells=st.tuples(*[st.floats(0, 5)] * 3), tilt=st.floats(-1.04, 1.04),
    pattern=st.sampled_from(Pattern), counts=st.sampled_from(DwellCounts),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_weaves(name, amplitude, frequency, dwells, tilt, pattern, counts):
    left, right, centre = dwells
    given_ = (name, pattern, amplitude, frequency, left, right, counts, centre)
    fits = counts is DwellCounts.ADDED or left + right + 2 * centre < 1 / frequency
    if not fits:
        with pytest.raises(CellError, match="expected less dwell than the cycle"):
            Weave(*given_, tilt=tilt)
        return
    weave = Weave(*given_, tilt=tilt)
    assert Weave(name, str(pattern), amplitude, frequency, left, right, str(counts), centre,
                 tilt=tilt) == weave  # fmt: skip
    for field, bad in [
        ("name", ""), ("name", None), ("pattern", "spiral"), ("amplitude", -amplitude),
        ("amplitude", NAN), ("amplitude", 1.0), ("frequency", 0.0), ("frequency", -frequency),
        ("frequency", 1e4), ("dwell_left", -1e-3), ("dwell_right", NAN), ("dwell_centre", -1.0),
        ("dwell_counts", "half"), ("travel_in_dwell", 3), ("tilt", 2.0), ("amplitude", True),
        ("amplitude", "2 mm"),
    ]:  # fmt: skip
        with pytest.raises(CellError, match=field):
            dataclasses.replace(weave, **{field: bad})


@given(speed=st.floats(1e-6, 1.0), wait=st.floats(0, 3600), crater=st.floats(0, 3600))
@settings(max_examples=50, deadline=None)
def test_moves(speed, wait, crater):
    a_joint = Move(MoveKind.JOINT, "a", speed, wait=wait, rounding=min(wait, 1.0))
    a_line = Move(MoveKind.LINEAR, "a", 20 * speed, wait=wait)
    an_arc = Move(MoveKind.ARC, "a", speed, "b")
    a_seam = Move(MoveKind.LINEAR, "a", speed, arc_on=True, crater=crater)
    for move, field, bad in [
        (a_joint, "speed", 1.0001), (a_joint, "speed", 0.0), (a_joint, "speed", -speed),
        (a_joint, "speed", NAN), (a_joint, "via", "b"), (a_joint, "arc_on", True),
        (a_joint, "weave", Weave("w", Pattern.SINE, 0.002, 2.0)), (a_joint, "crater", 1.0),
        (a_joint, "joined", True), (a_joint, "wait", -1.0), (a_joint, "rounding", -0.001),
        (a_joint, "kind", "spline"), (a_joint, "target", ""), (a_joint, "target", 7),
        (a_line, "speed", 20.1), (a_line, "speed", 1e11), (a_line, "via", "b"),
        (a_line, "line", 0), (a_line, "line", 2.5), (an_arc, "via", None), (an_arc, "via", 3),
        (a_seam, "speed", 1.1), (a_seam, "rounding", 0.01), (a_seam, "weave", "zigzag"),
        (a_seam, "crater", -0.1), (a_seam, "arc_on", 1),
    ]:  # fmt: skip
        with pytest.raises(CellError, match=field if field != "crater" else "crater|arc_on"):
            dataclasses.replace(move, **{field: bad})


@given(sizes=st.tuples(*[st.floats(0, 1)] * 3), which=st.sampled_from(["air", "approach", "seam"]))
@settings(max_examples=40, deadline=None)
def test_margins(sizes, which):
    margins = Margins(*sizes)
    for bad in (-1e-9, 1.001, NAN, np.inf, None, "10 mm", True):
        with pytest.raises(CellError, match=f"margins: {which}: came"):
            dataclasses.replace(margins, **{which: bad})


JOINED = Move(MoveKind.LINEAR, "a", 0.01, arc_on=True, joined=True)
REFUSED = [
    (lambda: Point("a", None, None), "point 'a'"),
    (lambda: Point("a", [0.0, NAN], None), "point 'a': q: came numbers that are not finite"),
    (lambda: Point("a", "home", None), "point 'a': q"),
    (lambda: Point("a", [[0.0]], None), r"point 'a': q: came an array of shape \(1, 1\)"),
    (lambda: Point("", HOME, None), "point: name"),
    (lambda: Body("a", "post", MESH, np.eye(4)), "role: came 'post'; expected one of: part, "),
    (lambda: Body("a", Role.PART, None, np.eye(4)), "mesh: came None; expected a Mesh"),
    (lambda: Body("a", Role.PART, MESH, np.eye(4), bears="lid"), "bears: came 'lid'"),
    (lambda: Body("a", Role.PART, MESH, np.eye(4), True, "arm"), "bears: came 'arm'"),
    (lambda: Body("a\nb", Role.PART, MESH, np.eye(4)), "body: name"),
    (lambda: TorchPiece("", MESH), "torch piece: name"),
    (lambda: TorchPiece("neck", np.eye(3)), "torch piece 'neck': mesh"),
    (lambda: dataclasses.replace(torch(), pieces=()), "torch: pieces"),
    (lambda: dataclasses.replace(torch(), pieces=torch().pieces * 2), "came 'nozzle'"),
    (lambda: torch([TorchPiece("wire", MESH)]), "came 'wire'"),
    (lambda: dataclasses.replace(torch(), wire_length=0.0), "torch: wire_length"),
    (lambda: dataclasses.replace(torch(), wire_length=15.0), "torch: wire_length"),
    (lambda: dataclasses.replace(torch(), wire_diameter=-1.0), "torch: wire_diameter"),
    (lambda: dataclasses.replace(turning_table(), upper=-9.0), "turning table: upper"),
    (lambda: dataclasses.replace(turning_table(), speed=1e11), "turning table: speed"),
    (lambda: dataclasses.replace(turning_table(), acceleration=0.0), "turning table: accel"),
    (lambda: Program("home", ["a"]), r"program: moves\[0\]: came 'a'; expected a Move"),
    (lambda: Program(None, (joint("a"),)), "program: start"),
    (lambda: Program("home", (JOINED,)), "joined"),
    (lambda: Program("home", (joint("a"), JOINED)), "joined"),
    (lambda: Program("home", (seam("a", 0.02), JOINED)), "expected the speed and the weave"),
    (lambda: Process(wire_feed=-1.0), "process: wire_feed"),
    (lambda: Process(voltage=NAN, current=100.0), "process: voltage"),
    (lambda: Process(efficiency=1.2), "process: efficiency"),
    (lambda: Cable("hose", 1.5, [[0, 0, 0], [1, 0, 0]], 0.01), "cable 'hose': link"),
    (lambda: Cable("hose", 1, [0, 0, 0], 0.01), "cable 'hose': points"),
    (lambda: Mesh([["a", 0, 0]], [[0, 0, 0]]), "arrays of numbers"),
    (lambda: Mesh(np.zeros((0, 3)), np.zeros((0, 3), int)), "no triangles"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "says"), REFUSED)
def test_records_that_cannot_be_meant_are_refused_in_one_sentence(make, says):
    with pytest.raises((CellError, MeshError), match=says) as refused:
        make()
    assert "\n" not in str(refused.value) and len(str(refused.value)) < 160


def sound_cell(**changes):
    points = {"home": HOME, "a": HOME + 0.1, "b": HOME + 0.2}
    bodies = [Body("clamp", Role.CLAMP, MESH, np.eye(4)), Body("part", "part", MESH, np.eye(4))]
    found = cell(points, [joint("a"), linear("b"), seam("home", via="a")], bodies=bodies)
    return dataclasses.replace(found, **changes)


def at(name_, /, **changes):
    """The points of the sound cell, one of them changed."""
    points = dict(sound_cell().points)
    points[name_] = dataclasses.replace(points[name_], **changes)
    return points


HOSE = Cable("hose", 6, [[0, 0, 0], [0.1, 0, 0]], 0.01)
STANDS = Body("jig", Role.FIXTURE, MESH, np.eye(4))
ON_TABLE = Body("jig", Role.FIXTURE, MESH, np.eye(4), on_table=True)
IN_A_CELL = [
    ({"points": at("a", q=HOME[:5])}, "point 'a': q: came '5 values'; expected 6"),
    ({"points": at("a", name="c")}, r"points\['a'\]: came 'c'"),
    ({"points": at("a", held=[0.1])}, "point 'a': held: came '1 values'; expected 0"),
    ({"points": {"home": "here"}}, r"points\['home'\]: came 'here'; expected a Point"),
    ({"points": [HOME]}, "cell: points"),
    ({"program": Program("hom", (joint("a"),))}, r"start: came 'hom'; .*\(did you mean 'home'"),
    ({"program": Program("home", ())}, r"program: moves: came \(\); expected at least one move"),
    ({"program": Program("home", (joint("z"),))}, "move 1: target: came 'z'"),
    ({"program": Program("home", (joint("a"), seam("a", via="z")))}, "move 2: via: came 'z'"),
    ({"bodies": sound_cell().bodies * 2}, "name of a body: came 'clamp'"),
    ({"bodies": [dataclasses.replace(STANDS, name="arm base")]}, "came 'arm base'"),
    ({"bodies": [ON_TABLE]}, "body 'jig': on_table"),
    ({"bodies": [dataclasses.replace(STANDS, bears="turning table")]}, "bears"),
    ({"bodies": [dataclasses.replace(STANDS, bears="arm")]}, "bears: came 'arm'"),
    ({"bodies": MESH}, "cell: bodies"),
    ({"bodies": [MESH]}, r"bodies\[0\]: came Mesh\(.*\); expected a Body"),
    ({"cables": [HOSE, HOSE]}, "name of a cable: came 'hose'"),
    ({"cables": [dataclasses.replace(HOSE, name="nozzle")]}, "name of a cable: came 'nozzle'"),
    ({"cables": [dataclasses.replace(HOSE, link=9)]}, "cable 'hose': link"),
    ({"link_meshes": (None,) * 6}, "came '6 entries'; expected 7"),
    ({"link_meshes": (*(None,) * 6, "x")}, r"link_meshes\[6\]"),
    ({"approximate_links": (7,)}, "approximate_links"),
    ({"tip_speed": 1500.0}, "tip_speed: came 1500.0; .* at most 20 m/s"),
    ({"tip_speed": 0.0}, "tip_speed"),
    ({"tip_acceleration": NAN}, "tip_acceleration"),
    ({"tip_jerk": -1.0}, "tip_jerk"),
    ({"override": 50}, "override"),
    ({"natural_frequency": 0.0}, "natural_frequency"),
    ({"name": ""}, "cell: name"),
    ({"arm": None}, "cell: arm"),
    ({"torch": "mig"}, "cell: torch"),
    ({"margins": (0.01, 0.01, 0.001)}, "cell: margins"),
    ({"table": True}, "cell: table"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "says"), IN_A_CELL)
def test_records_that_do_not_fit_together_are_refused(changes, says):
    with pytest.raises(CellError, match=says) as refused:
        sound_cell(**changes)
    assert "\n" not in str(refused.value)


def test_a_sound_cell_with_a_rail_and_a_table_is_taken():
    c = cell({"home": np.zeros(8)}, [joint("home")], arm=rail_arm(), table=turning_table(),
             bodies=[ON_TABLE, dataclasses.replace(STANDS, name="bed", bears="arm"),
                     dataclasses.replace(STANDS, name="foot", bears="turning table")])  # fmt: skip
    T = c.arm.pose(np.zeros(7)) @ c.torch.T_flange_tcp
    points = {"home": Point("home", None, T, held=[0.0, 0.1])}
    assert dataclasses.replace(c, points=points).points["home"].held.tolist() == [0.0, 0.1]
    with pytest.raises(CellError, match="held: came '1 values'; expected 2"):
        dataclasses.replace(c, points={"home": Point("home", None, T, held=[0.0])})


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("speed", np.full(6, 1e9), "at most 7200 deg/s"),
        ("acceleration", np.full(6, 1600.0), "at most 50000 deg/s2"),
        ("speed", np.full(5, 1.0), r"speed must be \(6,\)"),
        ("speed", np.full(6, NAN), "above zero"),
        ("lower", np.full(6, 9.0), "lower limit"),
        ("fixed", 1.1 * np.eye(4)[None].repeat(6, 0), "rotation part"),
        ("readings", None, "ReadingsMap"),
        ("held", 2, "held one"),
        ("name", "", "a name"),
    ],
)
def test_an_arm_made_by_hand_checks_itself_as_one_built_from_rows(name, value, says):
    with pytest.raises((ArmError, PathsimError), match=says):
        dataclasses.replace(shop_arm(), **{name: value})


def test_speeds_up_to_what_can_be_meant_are_taken():
    arm = Arm.from_dh(SHOP_ROWS, "standard", speed=np.full(6, np.radians(7200)))
    assert np.isinf(arm.acceleration).all()  # not known: said by leaving it out


def arrays_of(record):
    """All arrays in a record's fields."""
    for field in dataclasses.fields(record):
        value = getattr(record, field.name)
        if isinstance(value, np.ndarray):
            yield field.name, value


def test_arrays_are_copies_that_cannot_be_written_to():
    T, q, vertices = np.eye(4), HOME.copy(), np.array(MESH.vertices)
    mesh = Mesh(vertices, MESH.faces)
    records = [
        Body("a", Role.PART, mesh, T), Point("a", q, T, held=q[:1]), turning_table(), torch(),
        mesh, shop_arm(), HOSE, sound_cell(T_world_base=T), TurningTable(T, -1.0, 1.0, 1.0, 1.0),
    ]  # fmt: skip
    T += 1.0
    q += 1.0
    vertices += 1.0
    for record in records:
        found = dict(arrays_of(record))
        assert found
        for array in found.values():
            with pytest.raises(ValueError, match="read-only"):
                array[...] = 0
    np.testing.assert_array_equal(records[0].T_world_body, np.eye(4))
    np.testing.assert_array_equal(records[1].q, HOME)
    np.testing.assert_array_equal(records[4].vertices, MESH.vertices)
    points = {"home": Point("home", HOME, None)}
    c = cell(points, [joint("home")])
    points.clear()
    assert list(c.points) == ["home"]


def walked(value, seen):
    """Every record that hangs on a value."""
    if id(value) in seen or isinstance(value, str | bytes | np.ndarray):
        return
    seen[id(value)] = value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        yield value
        for field in dataclasses.fields(value):
            yield from walked(getattr(value, field.name), seen)
    elif isinstance(value, dict):
        for each in value.values():
            yield from walked(each, seen)
    elif isinstance(value, tuple | list):
        for each in value:
            yield from walked(each, seen)


def test_all_that_hangs_on_a_result_shows_itself_in_one_line():
    c = load_cell("sample_cells/turned_collar")
    result = check(c)
    profile = clearance_profile(c, result.trajectory, longest_step=1.0, moves=result.moves)
    kinds = set()
    for record in walked((result, profile, c.axes, c.pieces, c.world_linkage), {}):
        kinds.add(type(record))
        if not isinstance(record, Finding | LeftOut):  # sentences, which have to be whole
            assert len(repr(record)) < 500 and "\n" not in repr(record), type(record)
    assert {Cell, Body, Point, Mesh, Arm, Torch} <= kinds and len(kinds) > 15

"""A cell from scratch with little said; cells made from cells; poses, tips and meshes at axes."""

import numpy as np
import pytest
import trimesh

from pathsim import check
from pathsim.arm.postures import read_posture
from pathsim.errors import CellError, MeshError, PathsimError, ShapeError, UnitError
from pathsim.model import Body, Cell, Margins, Move, Point, Program, Role
from pathsim.transforms import inverse, pose_at, rotation_from_angles
from tests.builders import body, box, cell, joint, shop_arm, torch, turning_table

HOME, AWAY = np.zeros(6), np.array([0.4, -0.2, 0.1, 0.0, 0.3, 0.0])
PROGRAM = Program("home", (Move("joint", "away", 0.4), Move("joint", "home", 0.4)))


def least(**more):
    said = {
        "arm": shop_arm(),
        "torch": torch(),
        "points": {"home": HOME, "away": AWAY},
        "program": PROGRAM,
        "margins": Margins(0.01, 0.0015, 0.0015),
        "tip_speed": 1.5,
        "tip_acceleration": 3.0,
    }
    return Cell(**{name: value for name, value in (said | more).items() if value is not None})


@pytest.mark.parametrize("name", ["margins", "tip_speed", "tip_acceleration"])
def test_what_decides_a_verdict_is_never_guessed(name):
    """A margin or a limit that nobody chose would be a clear that nobody asked for."""
    with pytest.raises(TypeError, match=f"'{name}'"):
        least(**{name: None})
    with pytest.raises(TypeError, match="'air', 'approach', and 'seam'"):
        Margins()


def test_a_cell_places_itself_and_says_no_shapes():
    made = least()
    assert made.points["away"].q.tolist() == AWAY.tolist()
    assert made.link_meshes == (None,) * 7 and made.shapeless_links == tuple(range(7))
    assert np.array_equal(made.T_world_base, np.eye(4))


def test_links_that_nobody_gave_are_said_loudly():
    """A default must not be a silent gap: a link without a shape is not checked."""
    said = [f for f in check(least()).findings if "shape" in f.text]
    assert said and said[0].level == "watch"


def test_with_point_leaves_the_old_cell():
    old = least()
    new = old.with_point("away", q=HOME + 0.1)
    assert new.points["away"].q.tolist() == (HOME + 0.1).tolist()
    assert old.points["away"].q.tolist() == AWAY.tolist()
    assert new.bodies is old.bodies and new.program is old.program


def test_with_point_takes_a_pose_of_either_frame():
    base = pose_at([0.2, -0.1, 0.5], turned=[0.1, 0.2, 0.3])
    old = least(T_world_base=base)
    T = pose_at([0.7, 0.1, 0.4], turned=[np.pi, 0, 0.2])
    assert np.array_equal(old.with_point("away", T_base_tcp=T).points["away"].T_base_tcp, T)
    world = old.with_point("away", T_world_tcp=base @ T, posture="ahead high")
    assert np.allclose(world.points["away"].T_base_tcp, T, atol=1e-15)
    assert world.points["away"].posture == read_posture("ahead high")


def test_with_body_adds_or_takes_the_place():
    clamp, table = body(box(), "clamp"), body(box(), "table")
    one = least().with_body(clamp).with_body(table)
    other = body(box(), "clamp", at=(1, 0, 0))
    assert one.with_body(other).bodies == (other, table)
    assert one.without_body("clamp").bodies == (table,)
    assert one.bodies == (clamp, table)


def test_with_program_brings_its_own_weaves():
    old = least(weaves=("a weave that was described",))
    assert old.with_program("away", joint("home")).weaves == ()


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda c: c.with_point("away"), "joint values"),
        (lambda c: c.with_point("away", q=[1.0, 2.0]), "came '2 values'; expected 6"),
        (lambda c: c.with_point("away", T_base_tcp=2 * np.eye(4)), "scales by 2"),
        (lambda c: c.with_point("away", T_world_tcp=2 * np.eye(4)), "T_world_tcp: .* scales by 2"),
        (
            lambda c: c.with_point("away", T_base_tcp=np.eye(4), T_world_tcp=np.eye(4)),
            "expected one of them",
        ),
        (lambda c: c.with_point("away", T_base_tcp=np.eye(4), posture="odd"), "odd"),
        (lambda c: c.with_body("clamp"), "expected a Body"),
        (lambda c: c.with_body(body(box(), on_table=True)), "the cell has no table"),
        (lambda c: c.without_body("clmp"), "came 'clmp'; expected the name of a body"),
        (lambda c: c.with_program("hme", joint("home")), "did you mean 'home'"),
        (lambda c: c.with_program("home", "away"), "expected a Move|a Move"),
        (lambda c: c.tip([0.0] * 5), "6 finite numbers in rad or m, for joint 1"),
        (lambda c: c.tip([np.nan] * 6), "not finite"),
        (lambda c: c.to_trimesh("home"), "6 finite numbers"),
        (lambda c: c.posed([0.0] * 7), "6 finite numbers"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_one_sentence(edit, words):
    with pytest.raises(PathsimError, match=words) as caught:
        edit(least())
    assert "\n" not in str(caught.value)


def test_tip_is_the_chain_by_hand():
    made = least(T_world_base=pose_at([1.0, 2.0, 3.0], turned=[0, 0, 0.5]))
    T = made.T_world_base @ made.arm.pose(AWAY) @ made.torch.T_flange_tcp
    assert made.tip(AWAY).shape == (3,)
    assert np.allclose(made.tip(AWAY), T[:3, 3], atol=1e-12)
    assert np.allclose(made.tip([HOME, AWAY])[1], T[:3, 3], atol=1e-12)


def test_trimesh_scene_stands_where_the_axes_put_it():
    """All bodies and pieces, the turned one by the table's own angle, told by hand."""
    links = (box((0.1, 0.1, 0.1)), *[None] * 5, box((0.02, 0.04, 0.06)))
    plate, post = body(box(), "plate", at=(2, 0, 0), on_table=True), body(box(), "nozzle")
    q = np.append(AWAY, np.pi / 2)
    points = {"home": np.zeros(7), "away": q}
    made = cell(
        points, PROGRAM.moves, links=links, bodies=(plate, post), table=turning_table(at=(1, 0, 0))
    )
    scene = made.to_trimesh(q)
    assert isinstance(scene, trimesh.Scene)
    # a body that has the name of a piece of the torch is there too
    names = {"arm base", "link 6", "nozzle", "wire", "plate", "nozzle 2"}
    assert set(scene.geometry) == names
    meshes = made.posed(q)
    assert set(meshes) == names
    for name, mesh in meshes.items():
        T = scene.graph.get(name)[0]
        there = trimesh.transform_points(scene.geometry[name].vertices, T)
        assert np.allclose(mesh.vertices, there, atol=1e-9)
    turned = scene.graph.get("plate")[0]
    centre = trimesh.transform_points(scene.geometry["plate"].vertices, turned).mean(axis=0)
    assert np.allclose(centre, [1, 1, 0], atol=1e-9)  # 1 m beside the axis, a quarter turn on
    flange = trimesh.transform_points(
        scene.geometry["link 6"].vertices, scene.graph.get("link 6")[0]
    ).mean(axis=0)
    assert np.allclose(flange, made.arm.pose(AWAY)[:3, 3], atol=1e-9)


def test_body_from_a_file_is_in_metres_and_named(tmp_path):
    shape = trimesh.creation.box((100, 60, 20))
    shape.export(tmp_path / "toggle_clamp.stl")
    made = Body.from_file(tmp_path / "toggle_clamp.stl", unit="mm", role="clamp")
    assert (made.name, made.role, made.unit) == ("toggle clamp", Role.CLAMP, "mm")
    assert np.allclose(made.bounds, [[-0.05, -0.03, -0.01], [0.05, 0.03, 0.01]], atol=1e-7)
    with pytest.raises(MeshError, match="does not say its unit"):
        Body.from_file(tmp_path / "toggle_clamp.stl")  # a unit is never guessed


def test_glb_needs_its_up(tmp_path):
    path = tmp_path / "part.glb"
    trimesh.creation.box((1, 2, 3)).export(path)
    assert np.allclose(Body.from_file(path, unit="m", up="z").bounds[1], [0.5, 1.0, 1.5])
    assert np.allclose(Body.from_file(path, unit="m", up="y").bounds[1], [0.5, 1.5, 1.0])
    with pytest.raises(MeshError, match=r"part.glb: nothing says which axis is up"):
        Body.from_file(path, unit="m")


def test_body_from_trimesh_and_arrays():
    shape = trimesh.creation.box((1, 2, 3))
    one = Body.from_trimesh("block", shape, unit="in", role="fixture")
    two = Body.from_arrays("block", shape.vertices, shape.faces, unit="in")
    assert np.allclose(one.bounds[1], np.array([0.5, 1.0, 1.5]) * 0.0254)
    assert one.mesh.digest == two.mesh.digest


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda p: Body.from_file(p / "no.stl", unit="mm"), MeshError, "no.stl: cannot be read"),
        (lambda p: Body.from_file(p / "no.step", unit="mm"), MeshError, "no.step"),
        (lambda p: Body.from_file(p / "no.stl", unit="mm", up="x"), MeshError, "up='x'"),
        (
            lambda _: Body.from_trimesh("b", trimesh.Scene(), unit="m"),
            MeshError,
            "came a Scene",
        ),
        (lambda _: Body.from_arrays("b", [[0, 0]], [[0]], unit="m"), MeshError, "vertices"),
        (lambda _: Body.from_arrays("b", "abc", [[0]], unit="m"), MeshError, "numbers"),
        (lambda _: Body.from_arrays("b", [[0, 0, 0]], [[0, 0, 0]], unit="ft"), UnitError, "ft"),
        (
            lambda _: Body.from_arrays("b", [[0, 0, 0]], [[0, 0, 0]], unit="m", role="jig"),
            CellError,
            "one of: part",
        ),
    ],
)
def test_bodies_that_cannot_be_made(tmp_path, make, error, words):
    with pytest.raises(error, match=words) as caught:
        make(tmp_path)
    assert "\n" not in str(caught.value)


def test_pose_at_takes_one_form_of_rotation():
    turned = pose_at([1, 2, 3], turned=[0.1, 0.2, 0.3])
    assert np.allclose(turned[:3, :3], rotation_from_angles("fixed x-y-z", [0.1, 0.2, 0.3]))
    assert turned[:3, 3].tolist() == [1, 2, 3] and not turned.flags.writeable
    half = pose_at(quat_wxyz=[0, 0, 0, 2.0])  # half a turn about z
    assert np.allclose(half[:3, :3], np.diag([-1, -1, 1]))
    assert np.allclose(pose_at(rotation=half[:3, :3]), half)
    assert np.allclose(pose_at() @ inverse(turned) @ turned, np.eye(4))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"position": [1, 2]}, r"came shape \(2,\); expected position \(3,\) in m"),
        ({"position": [1, 2, np.inf]}, "not finite"),
        ({"position": "here"}, "expected position"),
        ({"turned": [0, 0, 0], "quat_wxyz": [1, 0, 0, 0]}, "one form of rotation"),
        ({"quat_wxyz": [0, 0, 0, 0]}, "zero length"),
        ({"rotation": 2 * np.eye(3)}, "no rigid pose"),
        ({"rotation": np.diag([1, 1, -1])}, "no rigid pose"),
        ({"turned": [0, 0, 0], "order": "x-y"}, "unknown rotation convention"),
    ],
)
def test_poses_that_cannot_be_made(given, words):
    with pytest.raises(ShapeError, match=words):
        pose_at(**given)


def test_a_point_needs_less():
    assert Point("home", HOME).T_base_tcp is None
    assert Point("weld", T_base_tcp=np.eye(4)).q is None

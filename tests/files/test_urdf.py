"""Robot description files: against an independent library, and every way to be wrong."""

import shutil

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

import pathsim
from pathsim import CellFaults, load_cell
from tests.files.test_cell_folder import SAMPLES

DESCRIPTION = """
format: 1
name: Described arm
urdf: {file: arm.urdf, acceleration: 400 deg/s2, sliding acceleration: 2 m/s2}
tip: {speed: 1500 mm/s, acceleration: 3000 mm/s2}
"""


@pytest.fixture
def shop(tmp_path):
    for name in ("shop", "shop_arm", "gate_hinge"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    (tmp_path / "shop_arm" / "arm.yaml").write_text(DESCRIPTION)
    return tmp_path


def with_urdf(shop, text, description=DESCRIPTION):
    (shop / "shop_arm" / "arm.yaml").write_text(description)
    (shop / "shop_arm" / "arm.urdf").write_text(text)
    return load_cell(shop / "gate_hinge")


BOX = "<visual><geometry><box size='0.05 0.05 0.05'/></geometry></visual>"


def joint(name, kind, parent, child, xyz=(0, 0, 0), rpy=(0, 0, 0), axis=(0, 0, 1), more=""):
    limit = "<limit lower='-2' upper='2.5' velocity='3' effort='1'/>"
    if kind == "fixed":
        limit = ""
    spell = lambda v: " ".join(f"{x:.17g}" for x in v)  # noqa: E731
    return (
        f"<joint name='{name}' type='{kind}'><parent link='{parent}'/><child link='{child}'/>"
        f"<origin xyz='{spell(xyz)}' rpy='{spell(rpy)}'/><axis xyz='{spell(axis)}'/>{limit}{more}"
        "</joint>"
    )


def robot(parts, links):
    inside = "\n".join([*(f"<link name='{n}'>{BOX}</link>" for n in links), *parts])
    return f"<?xml version='1.0'?>\n<robot name='r'>\n{inside}\n</robot>\n"


def random_robot(rng, moving=6, kinds=("revolute", "continuous", "prismatic")):
    """A chain with fixed joints in between and a tool hung on the last link."""
    links, parts, kinds_used = ["l0"], [], []
    for i in range(moving):
        if rng.random() < 0.4:
            links.append(f"f{i}")
            parts.append(joint(f"fix{i}", "fixed", links[-2], links[-1], rng.normal(0, 0.2, 3),
                               rng.uniform(-3, 3, 3)))  # fmt: skip
        axis = rng.normal(size=3)
        kind = str(rng.choice(kinds))
        kinds_used.append(kind)
        links.append(f"m{i}")
        parts.append(joint(f"j{i}", kind, links[-2], links[-1], rng.normal(0, 0.3, 3),
                           rng.uniform(-3, 3, 3), axis / np.linalg.norm(axis)))  # fmt: skip
    links.append("tip")
    parts.append(joint("fixtip", "fixed", links[-2], "tip", rng.normal(0, 0.2, 3), (0.3, 0.2, 1)))
    return robot(parts, links), kinds_used


@pytest.mark.parametrize("seed", range(6))
def test_forward_and_jacobian_against_pinocchio(shop, seed):
    pin = pytest.importorskip("pinocchio", reason="pinocchio comes with the dev extra (no Windows)")
    rng = np.random.default_rng(seed)
    text, kinds = random_robot(rng)
    points = shop / "gate_hinge" / "points.csv"
    # no taught point matters here: every axis at zero, in the unit of its kind
    units = ["mm" if kind == "prismatic" else "deg" for kind in kinds]
    rail = kinds[0] == "prismatic" and len(kinds) == 7
    names = ["rail"] if rail else ["j1"]
    names += [f"j{i}" for i in range(2, 7)]
    header = ",".join(f"{n} {u}" for n, u in zip(names, units, strict=True))
    taught = ["home", "approach", "weld start", "weld end", "retract"]
    points.write_text(f"name,{header}\n" + "".join(f"{n},0,0,0,0,0,0\n" for n in taught))
    cell = with_urdf(shop, text)
    arm = cell.arm
    model = pin.buildModelFromXML(text)
    data, frame = model.createData(), model.getFrameId("tip")
    for q in rng.uniform(-1.5, 1.5, (20, 6)):
        full = []
        for value, kind in zip(q, kinds, strict=True):
            full += [np.cos(value), np.sin(value)] if kind == "continuous" else [value]
        pin.framesForwardKinematics(model, data, np.array(full))
        np.testing.assert_allclose(arm.pose(q), data.oMf[frame].homogeneous, atol=1e-9)
        J = pin.computeFrameJacobian(model, data, np.array(full), frame,
                                     pin.LOCAL_WORLD_ALIGNED)  # fmt: skip
        np.testing.assert_allclose(arm.jacobian(q), J, atol=1e-9)
        # every moving link's frame too, from the joints' own placements
        for i in range(5):
            np.testing.assert_allclose(arm.link_poses(q)[i + 1], data.oMi[i + 1].homogeneous,
                                       atol=1e-9)  # fmt: skip


def straight(shapes="", more=(), links=()):
    """Six joints in a row, written by hand."""
    names = ["base", "a", "b", "c", "d", "e", "f"]
    axes = [(0, 0, 1), (0, 1, 0), (0, 1, 0), (1, 0, 0), (0, 1, 0), (1, 0, 0)]
    places = [(0, 0, 0.2), (0.1, 0, 0.2), (0, 0, 0.6), (0.2, 0, 0.1), (0.4, 0, 0), (0.1, 0, 0)]
    parts = [
        joint(f"j{i}", "revolute", names[i], names[i + 1], places[i], axis=axes[i])
        for i in range(6)
    ]
    text = robot([*parts, *more], [*names, *links])
    return text.replace(f"<link name='c'>{BOX}", f"<link name='c'>{shapes or BOX}")


def test_a_whole_cell_runs_with_it(shop):
    """Checked end to end; shapes of side branches and fixed links ride along."""
    more = [joint("hold", "fixed", "f", "plate", (0.05, 0, 0)),
            joint("side", "fixed", "c", "motor", (0, 0.1, 0), (0, 0, 1.0))]  # fmt: skip
    description = DESCRIPTION.replace("arm.urdf,", "arm.urdf, tip: plate,")
    cell = with_urdf(shop, straight(more=more, links=("plate", "motor")), description)
    # link 3 holds its own box and the motor's, 0.1 m aside and turned by 1 rad
    box = cell.link_meshes[3]
    assert len(box.faces) == 24
    half = 0.025 * (np.cos(1.0) + np.sin(1.0))
    np.testing.assert_allclose(box.bounds[1], [max(0.025, half), 0.1 + half, 0.025], atol=1e-12)
    # the last link's frame is the tip: its own box is 0.05 behind, the plate's at the origin
    np.testing.assert_allclose(cell.link_meshes[6].bounds[0][0], -0.075, atol=1e-12)
    np.testing.assert_allclose(cell.link_meshes[6].bounds[1][0], 0.025, atol=1e-12)
    assert cell.approximate_links == tuple(range(7))
    result = pathsim.check(cell)
    assert len(result.moves) == 5 and all(move.pairs for move in result.moves)
    q = np.array([0.3, 0.2, -0.4, 0.5, 0.6, 0.1])
    R = [
        Rotation.from_rotvec(np.array(a) * v).as_matrix()
        for a, v in zip(
            [(0, 0, 1), (0, 1, 0), (0, 1, 0), (1, 0, 0), (0, 1, 0), (1, 0, 0)], q, strict=True
        )
    ]
    place, turned = np.zeros(3), np.eye(3)
    offsets = [(0, 0, 0.2), (0.1, 0, 0.2), (0, 0, 0.6), (0.2, 0, 0.1), (0.4, 0, 0), (0.1, 0, 0)]
    for offset, turn in zip(offsets, R, strict=True):
        place, turned = place + turned @ offset, turned @ turn
    place = place + turned @ [0.05, 0, 0]
    np.testing.assert_allclose(cell.arm.pose(q)[:3, 3], place, atol=1e-12)


def test_meshes_scale_packages_and_both_kinds_of_shape(shop):
    mesh = "<mesh filename='package://castings/link3.stl' scale='0.001 0.001 0.001'/>"
    stl = f"<geometry>{mesh}</geometry>"
    ball = "<geometry><sphere radius='0.2'/></geometry>"
    shapes = f"<visual>{stl}</visual><collision>{ball}</collision>"
    text = straight(shapes)
    description = DESCRIPTION.replace("arm.urdf,", "arm.urdf, packages: {castings: .},")
    both = with_urdf(shop, text, description).link_meshes[3]
    seen = with_urdf(shop, text, description.replace("packages", "shapes: visual, packages"))
    only_ball = with_urdf(
        shop, text, description.replace("packages", "shapes: collision, packages")
    )
    drawn = load_cell(SAMPLES / "gate_hinge")
    # link3.stl is drawn in the base frame at zero: its corners, in metres, stay as in the file
    file = drawn.link_meshes[3].moved(drawn.arm.link_poses(np.zeros(6))[3])
    np.testing.assert_allclose(seen.link_meshes[3].bounds, file.bounds, atol=1e-9)
    radius = np.linalg.norm(only_ball.link_meshes[3].vertices, axis=1)
    assert radius.min() > 0.2  # outside the ball, never inside
    assert len(both.faces) == len(seen.link_meshes[3].faces) + len(only_ball.link_meshes[3].faces)


def test_a_link_without_shape_is_said_to_be_unchecked(shop):
    result = pathsim.check(with_urdf(shop, straight("<inertial/>")))
    assert any(f.kind == "not checked" and f.text.startswith("Link 3") for f in result.findings)


ENTITY = "<!DOCTYPE robot [<!ENTITY x SYSTEM 'file:///etc/hostname'>]><robot name='&x;'/>"
BOMB = "<!DOCTYPE r [<!ENTITY a 'aaaa'><!ENTITY b '&a;&a;&a;&a;'>]><robot name='&b;'/>"
TEXT = straight()
FAULTS = [
    (ENTITY, "document type"),
    (BOMB, "document type"),
    ("<robot><link", "no valid XML"),
    ("", "no valid XML"),
    ("<sdf/>", "came <sdf>"),
    ("<robot name='r'/>", "has no links"),
    (straight(more=[joint("loop", "fixed", "f", "b")]), "hangs on joint 'j1' already"),
    (TEXT.replace("<parent link='base'/>", "<parent link='f'/>"), "part of a loop"),
    (straight(links=("alone",)), "roots: base, alone"),
    (TEXT.replace("<child link='f'/>", "<child link='g'/>"), "its child 'g' is no link"),
    (TEXT.replace("name='j1' type='revolute'", "name='j1' type='planar'"), "came type 'planar'"),
    (TEXT.replace("lower='-2' upper='2.5'", "lower='2.5' upper='-2'", 1), "limits are 2.5 to -2"),
    (TEXT.replace("velocity='3'", "velocity='0'", 1), "its velocity is 0"),
    (TEXT.replace("velocity='3'", "velocity='nan'", 1), "came velocity='nan'"),
    (TEXT.replace("xyz='0 0 0.59999999999999998'", "xyz='0 0 inf'"), "came xyz='0 0 inf'"),
    (TEXT.replace("xyz='0 0 0.59999999999999998'", "xyz='0 0'"), "came xyz='0 0'"),
    (TEXT.replace("<axis xyz='0 0 1'/>", "<axis xyz='0 0 0'/>", 1), "axis has length 0"),
    (TEXT.replace("<axis xyz='0 0 1'/>", "<axis xyz='0 0 2'/>", 1), "axis has length 2"),
    (TEXT.replace("<limit lower='-2' upper='2.5' velocity='3' effort='1'/>", "", 1), "no <limit>"),
    (TEXT.replace("name='j2'", "name='j1'"), "name came twice"),
    (TEXT.replace("<link name='b'>", "<link name='a'>"), "came twice"),
    (straight(more=[joint("j7", "revolute", "c", "g")], links=("g",)), "several links end it"),
    (straight("<visual><geometry><mesh filename='gone.stl'/></geometry></visual>"), "not exist"),
    (straight("<visual><geometry><mesh filename='../../x.stl'/></geometry></visual>"), "leads out"),
    (straight("<visual><geometry><mesh filename='/x.stl'/></geometry></visual>"), "absolute path"),
    (straight("<visual><geometry><mesh filename='file:///x.stl'/></geometry></visual>"), "address"),
    (straight("<visual><geometry><mesh filename='package://p/x.stl'/></geometry></visual>"),
     "where the package 'p' lies"),
    (straight("<visual><geometry><box size='1 1 0'/></geometry></visual>"), "sizes above zero"),
    (straight("<visual><geometry><box size='1 1'/></geometry></visual>"), "came size='1 1'"),
    (straight("<visual><geometry><torus/></geometry></visual>"), "came <torus>"),
    (straight("<visual/>"), "has 0 geometries"),
    (straight("<visual><geometry><box size='1 1 1'/></geometry><geometry><box size='1 1 1'/>"
              "</geometry></visual>"), "has 2 <geometry>"),
    (straight(f"<Visual>{BOX[8:-9]}</Visual>"), "came <Visual>"),
    (TEXT.replace("rpy='0 0 0'", "RPY='1 0 0'", 1), "came 'RPY'"),
    (TEXT.replace("rpy='0 0 0'", "quat='0 0 1 0'", 1), "came 'quat'"),
    (TEXT.replace("<axis xyz='0 0 1'/>", "<axis xyz='0 0 1'/><axis xyz='0 1 0'/>", 1), "2 <axis>"),
    (TEXT.replace("</robot>", "<group><link name='z'/></group></robot>"), "a link inside <group>"),
    (TEXT.replace("effort='1'/></joint>", "effort='1'/><mimic joint='j0'/></joint>", 1), "mimics"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "says"), FAULTS)
def test_each_fault_is_one_clear_message(shop, text, says):
    with pytest.raises(CellFaults) as caught:
        with_urdf(shop, text)
    messages = [str(f) for f in caught.value.faults]
    assert any(says in m for m in messages), "\n".join(messages)
    assert len(messages) <= 3, "\n".join(messages)
    assert all("arm.urdf" in m for m in messages)


def test_a_moving_side_branch_is_not_dropped(shop):
    text = straight(more=[joint("j7", "revolute", "c", "g")], links=("g",))
    with pytest.raises(CellFaults, match="not between the root and the tip"):
        with_urdf(shop, text, DESCRIPTION.replace("arm.urdf,", "arm.urdf, tip: f,"))
    with pytest.raises(CellFaults, match="it has no link 'ff'"):
        with_urdf(shop, text, DESCRIPTION.replace("arm.urdf,", "arm.urdf, tip: ff,"))


def test_the_same_axis_twice_is_singular_in_every_posture(shop):
    text = TEXT.replace("<origin xyz='0 0 0.59999999999999998' rpy='0 0 0'/>", "")
    with pytest.raises(CellFaults, match="joints 2 and 3 turn about one line"):
        with_urdf(shop, text)


def test_many_nodes_end_with_a_message(shop):
    text = "<robot name='r'>" + "<link name='x'/>" * 60_000 + "</robot>"
    with pytest.raises(CellFaults, match="more than 50000 elements"):
        with_urdf(shop, text)


def test_soft_limits_of_the_controller_count(shop):
    soft = "<safety_controller soft_lower_limit='-1.5' soft_upper_limit='9' k_velocity='1'/>"
    text = TEXT.replace("effort='1'/></joint>", f"effort='1'/>{soft}</joint>", 1)
    arm = with_urdf(shop, text).arm
    assert (arm.lower[0], arm.upper[0]) == (-1.5, 2.5) and arm.lower[1] == -2

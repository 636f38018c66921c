"""Faults in a cell's files: each says where, what came, what was expected; all come at once."""

import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from pathsim import CannotCheck, CellFaults, load_cell
from pathsim.transforms import inverse, rotation_from_angles

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture
def shop(tmp_path):
    """A copy of a sample cell that may be spoilt."""
    for name in ("shop", "shop_arm", "gate_hinge"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    return tmp_path


def spoil(shop, file, old, new):
    path = shop / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def faults(shop):
    with pytest.raises(CellFaults) as caught:
        load_cell(shop / "gate_hinge")
    return caught.value.faults


def only(shop):
    found = faults(shop)
    assert len(found) == 1, "\n".join(map(str, found))
    return found[0]


def test_loads_a_sound_cell():
    cell = load_cell(SAMPLES / "gate_hinge")
    assert cell.name == "Gate hinge"
    assert [body.name for body in cell.bodies][-1] == "hinge plate"
    assert len(cell.pieces) == 6 + 4
    assert cell.margins.air == pytest.approx(0.01)
    assert len(cell.fingerprint) == 64
    assert load_cell(SAMPLES / "gate_hinge" / "cell.yaml").fingerprint == cell.fingerprint


def test_link_meshes_are_put_into_link_frames():
    """At zero every link must stand where it was drawn: the flange's face at x = 900 mm."""
    cell = load_cell(SAMPLES / "gate_hinge")
    T = cell.arm.link_poses(np.zeros(6))[6]
    flange = cell.link_meshes[6].moved(T)
    np.testing.assert_allclose(flange.bounds[1][0], 0.9, atol=1e-6)
    np.testing.assert_allclose(flange.bounds.mean(axis=0)[2], 1.15, atol=1e-4)


def test_bodies_stand_and_are_turned_as_the_cell_says(shop):
    """Turned about the fixed x, then y, then z axis; the clamp's bar reaches along its own x."""
    spoil(
        shop, "gate_hinge/cell.yaml", "at: 840 115 720 mm", "at: 840 115 720 mm, turned: 0 0 90 deg"
    )
    spoil(shop, "gate_hinge/cell.yaml", "at: 840 -115 720 mm", "at: 1 2 3 mm, turned: 10 20 30 deg")
    left, right = (b for b in load_cell(shop / "gate_hinge").bodies if "clamp" in b.name)
    world = left.mesh.moved(left.T_world_body).bounds
    np.testing.assert_allclose(left.T_world_body[:3, 3], [0.84, 0.115, 0.72])
    assert world[1][1] - 0.115 > 0.09 and world[1][0] - 0.84 < 0.03
    # scipy: fixed roll/pitch/yaw 10/20/30 deg, first row
    np.testing.assert_allclose(
        right.T_world_body[0], [0.813797681, -0.440969611, 0.378522306, 0.001], atol=1e-9
    )


# what is changed in which file -> line, key, and words of the message
SPOILT = [
    ("gate_hinge/cell.yaml", "name: Gate hinge", "nmae: Gate hinge", 3, "nmae", "mean 'name'"),
    ("gate_hinge/cell.yaml", "role: clamp", "rol: clamp", 12, "bodies[4].rol", "mean 'role'"),
    ("gate_hinge/cell.yaml", "role: clamp", "role: clmp", 12, "bodies[4].role", "mean 'clamp'"),
    ("gate_hinge/cell.yaml", "air: 10 mm", "air: 10", 18, "margins.air", "mm, cm, m, in"),
    ("gate_hinge/cell.yaml", "air: 10 mm", "air: -10 mm", 18, "margins.air", "at least 0"),
    ("gate_hinge/cell.yaml", "air: 10 mm", "air: .nan", 18, "margins.air", "not a number"),
    ("gate_hinge/cell.yaml", "unit: mm, at: 840 115", "unit: furlong, at: 840 115", 12,
     "bodies[4].unit", "'mm'"),
    ("gate_hinge/cell.yaml", "at: 840 115 720 mm", "at: 840 115 mm", 12, "bodies[4].at",
     "3 numbers"),
    ("gate_hinge/cell.yaml", "name: left clamp", "name: table", 12, "bodies[4].name", "line 10"),
    ("gate_hinge/cell.yaml", "hinge_plate.obj", "hinge_plat.obj", 15, "bodies[7].mesh",
     "mean 'hinge_plate.obj'"),
    ("gate_hinge/cell.yaml", "../gate_hinge/hinge_plate.obj", "/etc/hosts", 15, "bodies[7].mesh",
     "absolute"),
    ("gate_hinge/cell.yaml", "../gate_hinge/hinge_plate.obj", "../../x.stl", 15, "bodies[7].mesh",
     "leads out"),
    ("gate_hinge/cell.yaml", "../gate_hinge/hinge_plate.obj", "http://x/y.stl", 15,
     "bodies[7].mesh", "address"),
    ("gate_hinge/cell.yaml", "linear: retract", "linear: retrat", 28, "program[5]",
     "mean 'retract'"),
    ("gate_hinge/cell.yaml", "weave: hinge fillet", "weave: hinge filet", 27, "program[4].weave",
     "mean 'hinge fillet'"),
    ("gate_hinge/cell.yaml", "speed: 60 mm/s", "speed: 60 %", 26, "program[3].speed", "mm/s"),
    ("gate_hinge/cell.yaml", "speed: 40 %", "speed: 400 %", 25, "program[2].speed", "100 %"),
    ("gate_hinge/cell.yaml", "dwell counts: added", "dwell counts: inside", 21,
     "weaves.hinge fillet", None),
    ("gate_hinge/cell.yaml", "  - start: home", "  - {joint: home, speed: 10 %}", 24, "program[1]",
     "first line"),
    ("gate_hinge/cell.yaml", "file: points.csv", "file: point.csv", None, "", "missing"),
    ("gate_hinge/points.csv", "j3 deg", "j3", 1, "column 4", "no unit"),
    ("gate_hinge/points.csv", "j3 deg", "j3 mm", 1, "column 4", "deg, rad"),
    ("gate_hinge/points.csv", "j3 deg", "jj3 deg", 1, "column 4", "mean 'j3'"),
    ("gate_hinge/points.csv", "home,60.000", "home,nan", 2, "home, j1", "finite number"),
    ("gate_hinge/points.csv", "home,60.000", "home,", 2, "home, j1", "blank"),
    ("gate_hinge/points.csv", "approach,", "home,", 3, "name", "line 2"),
    ("shop_arm/arm.yaml", "limits: -80 110 deg", "limits: 110 -80 deg", 7, "joints[2].limits",
     "lower"),
    ("shop_arm/arm.yaml", "alpha: -90 deg", "alpha: -90 mm", 6, "joints[1].alpha", "deg, rad"),
    ("shop_arm/arm.yaml", "- {link: 3, mesh: link3.stl}", "", 16, "links.shapes",
     "link 3 is missing"),
    ("shop_arm/arm.yaml", "convention: standard", "convention: classic", 4, "convention",
     "'modified'"),
    ("shop_arm/torch.yaml", "wire diameter: 1.0 mm", "wire diameter: 0 mm", 5, "wire diameter",
     "above 0"),
    ("shop_arm/torch.yaml", "name: neck", "name: wire", 9, "pieces[2]", "taken"),
    ("gate_hinge/cell.yaml", "at: 840 115 720 mm", "at: 840 115 720 m", 12, "bodies[4].at", "unit"),
    ("gate_hinge/cell.yaml", "wire: 18 mm", "wire: 5 m", 6, "torch.wire", "is the unit right"),
    ("gate_hinge/cell.yaml", "frequency: 2.2 Hz", "frequency: 1e5 Hz", 21,
     "weaves.hinge fillet.frequency", "at most 100"),
    ("gate_hinge/cell.yaml", "name: left clamp", "name: ' '", 12, "bodies[4].name", "character"),
    ("gate_hinge/points.csv", "home,60.000", "home,6_0", 2, "home, j1", "finite number"),
    ("gate_hinge/points.csv", "home,60.000", "home,9000", 2, "home, j1", "ten turns"),
    ("shop_arm/torch.yaml", "name: neck", "name: link 3", 9, "pieces[2]", "taken"),
    ("gate_hinge/cell.yaml", "name: left clamp", "name: arm base", 12, "bodies[4].name", "own"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("file", "old", "new", "line", "key", "says"), SPOILT, ids=[f"{s[0]}-{s[2]}" for s in SPOILT]
)
def test_each_fault_says_where_what_and_the_cure(shop, file, old, new, line, key, says):
    if says is None:  # 0.1 s twice fits into a cycle at 2.2 Hz but not at 10 Hz
        spoil(shop, file, "frequency: 2.2 Hz", "frequency: 10 Hz")
        says = "3.3 cycles a second"
    spoil(shop, file, old, new)
    found = faults(shop)
    texts = "\n".join(map(str, found))
    match = [f for f in found if f.line == line and (f.key == key or says in str(f))]
    assert match, texts
    assert says in texts
    assert match[0].came and match[0].expected


def test_all_faults_come_at_once(shop):
    spoil(shop, "gate_hinge/cell.yaml", "air: 10 mm", "air: 10")
    spoil(shop, "gate_hinge/cell.yaml", "role: clamp", "role: clamb")
    spoil(shop, "gate_hinge/cell.yaml", "name: Gate hinge", "title: Gate hinge")
    assert len(faults(shop)) == 4  # 'title' is not known, and 'name' is missing


def test_faults_of_several_files_come_at_once(shop):
    spoil(shop, "gate_hinge/points.csv", "approach,", "approach,x")
    spoil(shop, "gate_hinge/cell.yaml", "toggle_clamp.stl", "toggle.stl")
    spoil(shop, "shop_arm/arm.yaml", "limits: -80 110 deg", "limits: 110 -80 deg")
    # points are only read with a sound arm, so two files' faults stand together
    assert {fault.file for fault in faults(shop)} == {"gate_hinge/cell.yaml", "shop_arm/arm.yaml"}


def test_duplicate_keys_and_broken_yaml_have_a_line(shop):
    spoil(shop, "gate_hinge/cell.yaml", "name: Gate hinge", "name: Gate hinge\nname: Again")
    fault = only(shop)
    assert fault.line == 4 and "stands twice" in fault.came
    spoil(shop, "gate_hinge/cell.yaml", "name: Again", "name: [")
    assert only(shop).line is not None


@pytest.mark.parametrize(
    ("contents", "says"),
    [
        (b"", "empty"),
        (b"not a mesh at all", "length does not fit"),
        (b"solid x\nfacet normal 0 0 1\nouter loop\n", "not closed"),
        (b"solid x\nendsolid x\n", "no triangles"),
        (b"\x00" * 80 + (5).to_bytes(4, "little") + b"\x00" * 50, "length does not fit"),
    ],
)
def test_broken_meshes_are_faults_never_lost_bodies(shop, contents, says):
    (shop / "shop" / "toggle_clamp.stl").write_bytes(contents)
    found = faults(shop)
    assert {fault.key for fault in found} <= {"bodies[4].mesh", "bodies[5].mesh"}
    assert found[0].line == 12 and says in found[0].came


@pytest.mark.parametrize("ends", ["\r\n", "\r", "\n"])
def test_points_with_any_line_ends_and_a_remark_first(shop, ends):
    path = shop / "gate_hinge" / "points.csv"
    text = "# taught on the bench; not final; check\n" + path.read_text(encoding="utf-8")
    path.write_bytes(text.replace("\n", ends).encode())
    assert len(load_cell(shop / "gate_hinge").points) == 5


def test_a_field_without_end_is_a_fault(shop):
    (shop / "gate_hinge" / "points.csv").write_text("name,j1 deg\nhome," + "1" * 200_000)
    assert any("points.csv" in fault.file for fault in faults(shop))


def test_glb_needs_a_word_on_which_axis_is_up(tmp_path):
    for name in ("shop", "shop_arm", "deep_channel"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    as_drawn = load_cell(tmp_path / "deep_channel").bodies[-1].mesh
    spoil(tmp_path, "deep_channel/cell.yaml", "up: z,", "up: y,")
    stood_up = load_cell(tmp_path / "deep_channel").bodies[-1].mesh
    x, y, z = as_drawn.vertices.T
    np.testing.assert_allclose(stood_up.vertices, np.stack([x, -z, y], axis=1))
    spoil(tmp_path, "deep_channel/cell.yaml", "up: y,", "")
    with pytest.raises(CellFaults, match="which axis is up"):
        load_cell(tmp_path / "deep_channel")


def test_no_folder_and_no_cell(tmp_path):
    with pytest.raises(CannotCheck, match="no cell folder"):
        load_cell(tmp_path / "nothing")
    with pytest.raises(CannotCheck, match=r"holds no cell\.yaml"):
        load_cell(tmp_path)


POSES = """name;x mm;y mm;z mm;r1 deg;r2 deg;r3 deg;note
home;700,5;0;900;10;170;-20;a note
approach;895;-60;865;10;170;-20;
weld start;930;-60;780;10;170;-20;
weld end;930;60;780;10;170;-20;
retract;895;60;865;10;170;-20;
"""


@pytest.mark.parametrize("order", ["fixed x-y-z", "intrinsic z-y-x", "z-y-z"])
@pytest.mark.parametrize("frame", ["base", "world"])
def test_poses_with_semicolons_and_decimal_commas(shop, order, frame):
    (shop / "gate_hinge" / "points.csv").write_text(POSES, encoding="utf-8-sig")
    spoil(shop, "gate_hinge/cell.yaml", "file: points.csv",
          f"file: points.csv, rotation: {order}, frame: {frame}")  # fmt: skip
    cell = load_cell(shop / "gate_hinge")
    T = cell.points["home"].T_base_tcp
    world = np.array([0.7005, 0, 0.9])
    expected = world if frame == "base" else inverse(cell.T_world_base)[:3, 3] + world
    np.testing.assert_allclose(T[:3, 3], expected, atol=1e-12)
    np.testing.assert_allclose(
        T[:3, :3], rotation_from_angles(order, np.radians([10, 170, -20])), atol=1e-12
    )


def test_poses_need_a_convention_and_a_frame(shop):
    (shop / "gate_hinge" / "points.csv").write_text(POSES, encoding="utf-8")
    said = "\n".join(map(str, faults(shop)))
    assert "does not say 'rotation'" in said and "does not say 'frame'" in said


def test_quaternions_must_be_whole(shop):
    text = "name,x mm,y mm,z mm,qw,qx,qy,qz\nhome,700,0,900,1,0,0,0\n" + "".join(
        f"{name},900,0,800,{q}\n"
        for name, q in [
            ("approach", "0,0,1,0"),
            ("weld start", "0.5,0.5,0.5,0.5"),
            ("weld end", "0.4,0.5,0.5,0.5"),
            ("retract", "0,0,1,"),
        ]
    )
    (shop / "gate_hinge" / "points.csv").write_text(text, encoding="utf-8")
    spoil(shop, "gate_hinge/cell.yaml", "file: points.csv",
          "file: points.csv, rotation: quaternion w-x-y-z, frame: base")  # fmt: skip
    said = "\n".join(map(str, faults(shop)))
    assert "points.csv:5: weld end: the quaternion has length 0.9539" in said
    assert "points.csv:6: retract, qz: is blank" in said


def test_a_list_in_place_of_keys_is_said_in_plain_words(tmp_path):
    """No word of the validator's: what came, and what stands there in a sound file."""
    for name in ("shop", "shop_arm", "gate_hinge"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    path = tmp_path / "gate_hinge" / "cell.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(re.sub(r"(?m)^margins:.*$", "margins: [1, 2]", text), encoding="utf-8")
    with pytest.raises(CellFaults) as caught:
        load_cell(path.parent)
    (fault,) = caught.value.faults
    assert fault.came == "came a list" and "margins: {air: 10 mm" in fault.expected
    assert "dictionary" not in str(fault) and "instance" not in str(fault)

"""An arm's description in all its forms, with its faults, and the points that go with it."""

import shutil

import numpy as np
import pytest

import pathsim
from pathsim import CellFaults, load_cell
from pathsim.transforms import inverse
from tests.files.test_cell_folder import SAMPLES, only, spoil

REACH = {"bench_arm": 0.9, "shop_arm": 1.4, "long_arm": 2.0, "offset_wrist_arm": 1.3}
ARMS = list(REACH)


@pytest.fixture
def shop(tmp_path):
    for name in ("shop", "shop_arm", "gate_hinge", *ARMS[2:], "bench_arm"):
        shutil.copytree(SAMPLES / name, tmp_path / name, dirs_exist_ok=True)
    return tmp_path


def with_arm(shop, text):
    (shop / "shop_arm" / "arm.yaml").write_text(text)
    return load_cell(shop / "gate_hinge")


DRAWN = """
format: 1
name: Drawn arm
dimensions:
  shoulder height: 430 mm
  shoulder offset: 160 mm
  upper arm: 590 mm
  elbow offset: 130 mm
  forearm: 640 mm
  flange: 100 mm
joints:
  - {limits: -170 170 deg, speed: 190 deg/s, acceleration: 450 deg/s2}
  - {limits: -80 110 deg, speed: 180 deg/s, acceleration: 400 deg/s2}
  - {limits: -75 85 deg, speed: 190 deg/s, acceleration: 450 deg/s2}
  - {limits: -190 190 deg, speed: 400 deg/s, acceleration: 1200 deg/s2}
  - {limits: -125 125 deg, speed: 360 deg/s, acceleration: 1000 deg/s2}
  - {limits: -360 360 deg, speed: 600 deg/s, acceleration: 1600 deg/s2}
tip: {speed: 1500 mm/s, acceleration: 3000 mm/s2}
links: {within: {base: 170 mm, upper arm: 95 mm, forearm: 80 mm, wrist: 60 mm}}
"""


@pytest.mark.parametrize(("name", "reach"), list(REACH.items()))
def test_ready_made_arms(shop, name, reach):
    """Each can stand in a cell; its flange's mesh ends at the flange, its reach is as said."""
    spoil(shop, "gate_hinge/cell.yaml", "../shop_arm/arm.yaml", f"../{name}/arm.yaml")
    cell = load_cell(shop / "gate_hinge")
    assert not cell.shapeless_links and not cell.approximate_links
    flange = cell.link_meshes[6]
    assert abs(flange.bounds[1][2]) < 0.012  # a pilot may stand out
    wrist = cell.arm.axis_frames(np.zeros(6))[4, :3, 3]
    elbow = cell.arm.axis_frames(np.zeros(6))[2, :3, 3]
    shoulder = cell.arm.axis_frames(np.zeros(6))[1, :3, 3]
    stretched = np.hypot(*shoulder[:2]) + np.linalg.norm(elbow - shoulder)
    stretched += np.linalg.norm(wrist - elbow)
    assert stretched == pytest.approx(reach, abs=0.03)


def test_links_turn_about_their_joints_without_cutting_the_next_but_one(shop):
    """Castings of the new arms: links two apart stay apart over each joint's own range."""
    import fcl

    for name in ("bench_arm", "long_arm", "offset_wrist_arm"):
        file = shop / "gate_hinge" / "cell.yaml"
        text = (SAMPLES / "gate_hinge" / "cell.yaml").read_text()
        file.write_text(text.replace("../shop_arm/arm.yaml", f"../{name}/arm.yaml"))
        cell = load_cell(shop / "gate_hinge")
        models = []
        for mesh in cell.link_meshes:
            model = fcl.BVHModel()
            model.beginModel(len(mesh.vertices), len(mesh.faces))
            model.addSubModel(mesh.vertices, mesh.faces)
            model.endModel()
            models.append(fcl.CollisionObject(model))
        for joint in range(6):
            for value in np.linspace(cell.arm.lower[joint], cell.arm.upper[joint], 9):
                q = np.zeros(6)
                q[joint] = value
                for T, model in zip(cell.arm.link_poses(q), models, strict=True):
                    model.setTransform(fcl.Transform(T[:3, :3], T[:3, 3]))
                for a in range(5):
                    assert fcl.distance(models[a], models[a + 2]) > 0, (name, joint, value, a)


def test_a_drawing_checks_like_its_rows(shop):
    """Capsules for links, the same axes: the wire's and nozzle's clearances stay the same."""
    rows = pathsim.check(load_cell(SAMPLES / "gate_hinge"))
    cell = with_arm(shop, DRAWN)
    # the rows' flange is turned by half a turn: joint 6 gets it back
    text = DRAWN + "readings: {joints: [{joint: 6, zero: 180 deg}]}\n"
    result = pathsim.check(with_arm(shop, text))
    assert cell.approximate_links == tuple(range(7))
    for a, b in zip(rows.moves, result.moves, strict=True):
        pairs = {(p.piece, p.body, p.stretch.zone): p.clearance for p in a.pairs}
        for pair in b.pairs:
            if pair.piece in ("nozzle", "neck", "wire", "torch body") and pair.body != "arm base":
                other = pairs[(pair.piece, pair.body, pair.stretch.zone)]
                assert pair.clearance.lower == pytest.approx(other.lower, abs=6e-4)
    (note,) = [f for f in result.findings if f.kind == "approximate shapes"]
    assert "hold for the real castings only" in note.text
    assert any("castings" in item.what and not item.is_agreed for item in result.left_out)


def test_capsules_hold_their_lines(shop):
    cell = with_arm(shop, DRAWN)
    q = np.random.default_rng(2).uniform(-1, 1, 6)
    poses, axes = cell.arm.link_poses(q), cell.arm.axis_frames(q)
    # upper arm: within 95 mm of the line from axis 2 to axis 3, and all of that inside
    start, end = axes[1, :3, 3], axes[2, :3, 3]
    points = cell.link_meshes[2].moved(poses[2]).vertices
    share = np.clip((points - start) @ (end - start) / ((end - start) ** 2).sum(), 0, 1)
    away = np.linalg.norm(points - start - share[:, None] * (end - start), axis=1)
    assert away.min() > 0.094 and away.max() < 0.1
    tip = cell.link_meshes[6].moved(poses[6]).vertices
    assert np.linalg.norm(tip - cell.arm.pose(q)[:3, 3], axis=1).min() < 0.065


def test_readings_map_reaches_points_and_findings(shop):
    """The display shows joint 2 with another zero and sign: one point, in its numbers."""
    text = DRAWN + "readings: {joints: [{joint: 2, sign: -1, zero: 90 deg}]}\n"
    cell = with_arm(shop, text.replace("-80 110 deg", "-80 95 deg"))
    taught = load_cell(SAMPLES / "gate_hinge").points["weld end"].q
    q = cell.points["weld end"].q
    assert q[1] == pytest.approx(np.pi / 2 - taught[1])
    np.testing.assert_allclose(np.delete(q, 1), np.delete(taught, 1))
    limits = [f for f in pathsim.check(cell).findings if f.kind == "joint limit"]
    # home is -20 on the display: 110 for the model, past 95
    assert any("110.0 deg (-20.0 deg on the display), past" in f.text for f in limits)


FAULTS = [
    (("dimensions:", "dimension:"), "this key is not known", "dimensions"),
    (("format: 1", "format: true"), "came True", ""),
    (("upper arm: 590 mm", "upper arm: 0 mm"), "came '0 mm'", ""),
    (("limits: -80 110 deg", "limits: 110 -80 deg"), "came 110 to -80 deg", ""),
    (("limits: -80 110 deg", "limits: -80 110 mm"), "'limits' in another unit", ""),
    (("speed: 180 deg/s", "speed: 180 mm/s"), "'speed' in another unit", ""),
    (("links: {within", "convention: standard\nlinks: {within"), "convention and dimensions", ""),
    (("wrist: 60 mm}}", "wrist: 60 mm}, unit: mm, shapes: []}"), None, ""),
    (("tip:", "rail: {along: y, limits: 1 -1 m, speed: 1 m/s, acceleration: 1 m/s2}\ntip:"),
     "must be below the upper", ""),
    (("tip:", "held joint: 2\ntip:"), "cannot be held", ""),
    (("tip:", "readings: {joints: [{joint: 7}]}\ntip:"), "came joint 7", ""),
    (("tip:", "readings: {joints: [{joint: 3, coupling: 1}]}\ntip:"), "half a coupling", ""),
    (("tip:", "readings: {joints: [{joint: 1, sign: 2}]}\ntip:"), "came 2", ""),
    (("tip:", "readings: {joints: [{joint: 1}, {joint: 1}]}\ntip:"), "came twice", ""),
]  # fmt: skip


@pytest.mark.parametrize(("change", "came", "cure"), FAULTS)
def test_faults_of_a_description(shop, change, came, cure):
    text = DRAWN.replace(*change, 1)
    assert text != DRAWN
    if came is None:  # allowed: an empty list beside it says nothing
        assert with_arm(shop, text)
        return
    with pytest.raises(CellFaults) as caught:
        with_arm(shop, text)
    found = [f for f in caught.value.faults if came in f.came]
    assert found, str(caught.value)
    assert found[0].file == "shop_arm/arm.yaml" and found[0].line is not None
    assert cure in found[0].cure


@pytest.mark.parametrize(
    ("link", "says"),
    [
        ("{link: 2, capsule: {from: 0 0 0 mm, to: 0 0 1 m, radius: 0 mm}}", "came"),
        ("{link: 2, capsule: {from: 0 0 0 mm, to: 0 0 100 mm, radius: 20 mm}, mesh: none}", "mesh"),
        ('{link: "2", mesh: none}', "came '2'"),
        ("{link: 2}", "no shape"),
        ("{link: 2, box: {size: 0 1 1 mm, at: 0 0 0 mm}}", "0 1 1 mm"),
    ],
)
def test_faults_of_simple_solids(shop, link, says):
    spoil(shop, "shop_arm/arm.yaml", "{link: 2, mesh: link2.stl}", link)
    assert says in only(shop).came


def test_a_solid_stands_for_a_link(shop):
    solid = "{link: 2, box: {size: 200 150 700 mm, at: 160 0 725 mm}}"
    spoil(shop, "shop_arm/arm.yaml", "{link: 2, mesh: link2.stl}", solid)
    cell = load_cell(shop / "gate_hinge")
    assert cell.approximate_links == (2,)
    box = cell.link_meshes[2].moved(cell.arm.link_poses(np.zeros(6))[2])
    np.testing.assert_allclose(box.bounds, [[0.06, -0.075, 0.375], [0.26, 0.075, 1.075]], atol=1e-9)


def test_words_choose_the_posture(shop):
    base = load_cell(SAMPLES / "gate_hinge")
    tool = inverse(base.T_world_base) @ base.tool_poses(base.points["retract"].q[None])[0]
    angles = "r1 deg,r2 deg,r3 deg"
    from scipy.spatial.transform import Rotation

    numbers = [*(tool[:3, 3] * 1e3), *Rotation.from_matrix(tool[:3, :3]).as_euler("xyz", True)]
    row = ",".join(f"{v:.6f}" for v in numbers)
    file = shop / "gate_hinge" / "points.csv"
    lines = [line + ",,,,,,," for line in file.read_text().splitlines()]
    lines[0] = file.read_text().splitlines()[0] + f",x mm,y mm,z mm,{angles},posture"
    spoil(shop, "gate_hinge/cell.yaml", "{file: points.csv}",
          "{file: points.csv, rotation: fixed x-y-z, frame: base}")  # fmt: skip
    retract = next(i for i, line in enumerate(lines) if line.startswith("retract"))
    for words, expected in (("ahead high plus", True), ("minus", False)):
        lines[retract] = f"retract,,,,,,,{row},{words}"
        file.write_text("\n".join(lines) + "\n")
        result = pathsim.check(load_cell(shop / "gate_hinge"))
        otherwise = [f for f in result.findings if f.kind == "arrives otherwise"]
        assert bool(otherwise) != expected
        if otherwise:  # the straight way up keeps the posture it came with
            assert "asks for minus" in otherwise[0].text
    lines[retract] = f"retract,,,,,,,{row},sideways"
    file.write_text("\n".join(lines) + "\n")
    fault = only(shop)
    assert fault.file == "gate_hinge/points.csv" and "no posture word" in fault.came


def test_a_joint_move_to_a_posture_that_is_not_there_stops(shop):
    file = shop / "gate_hinge" / "points.csv"
    text = file.read_text().splitlines()
    header = text[0] + ",x mm,y mm,z mm,r1 deg,r2 deg,r3 deg,posture"
    rows = [line + ",,,,,,," for line in text[1:]]
    rows[0] = "home,60,-20,25,0,90,0,,,,,,,"
    rows[1] = "approach,,,,,,,900,0,300,180,0,0,behind low"
    file.write_text("\n".join([header, *rows]) + "\n")
    spoil(shop, "gate_hinge/cell.yaml", "{file: points.csv}",
          "{file: points.csv, rotation: fixed x-y-z, frame: base}")  # fmt: skip
    result = pathsim.check(load_cell(shop / "gate_hinge"))
    stop = next(f for f in result.findings if f.kind == "out of reach")
    assert "posture asked for (behind low)" in stop.text and stop.move == 1


def test_table_columns_and_bodies(shop):
    for name in ("turned_collar", "collar_seam"):
        shutil.copytree(SAMPLES / name, shop / name)
    file, points = shop / "turned_collar" / "cell.yaml", shop / "turned_collar" / "points.csv"
    cell = load_cell(shop / "turned_collar")
    assert cell.axes.names[-1] == "the turning table" and cell.points["weld end"].q[6] == (
        pytest.approx(np.radians(-270))
    )
    text, rows = file.read_text(), points.read_text()
    for old, new, says in (
        ("turning table: {at", "# turning table: {at", "which the cell does not have"),
        ("limits: -360 360 deg", "limits: 360 -360 deg", "limits that do not rise"),
        ("bears: turning table}", "bears: turning table, on: turning table}", "'on' and 'bears'"),
    ):
        file.write_text(text.replace(old, new))
        with pytest.raises(CellFaults, match=says):
            load_cell(shop / "turned_collar")
    file.write_text(text)
    points.write_text("\n".join(line.rsplit(",", 1)[0] for line in rows.splitlines()) + "\n")
    with pytest.raises(CellFaults, match="no column 'table' came"):
        load_cell(shop / "turned_collar")


def posed(cell, names, header):
    """Rows of poses in the world, from a cell's own points."""
    from scipy.spatial.transform import Rotation

    rows = [header]
    for name in names:
        point = cell.points[name]
        if point.q is None:
            T = cell.T_world_base @ point.T_base_tcp
        else:
            T = cell.tool_poses(point.q[None])[0]
        angles = Rotation.from_matrix(T[:3, :3]).as_euler("xyz", degrees=True)
        rows.append(f"{name}," + ",".join(f"{v:.5f}" for v in [*T[:3, 3] * 1e3, *angles]))
    return rows


@pytest.mark.parametrize("name", ["hanging_rail", "turned_collar"])
def test_a_rail_or_table_position_is_never_made_up(shop, name):
    for folder in ("hanging_rail", "turned_collar", "collar_seam"):
        shutil.copytree(SAMPLES / folder, shop / folder)
    cell, file = load_cell(shop / name), shop / name / "points.csv"
    header = "name,x mm,y mm,z mm,r1 deg,r2 deg,r3 deg"
    names = list(cell.points)
    file.write_text("\n".join(posed(cell, names, header)) + "\n")
    if name == "turned_collar":
        text = (shop / name / "cell.yaml").read_text()
        said = "{file: points.csv, rotation: fixed x-y-z, frame: world}"
        (shop / name / "cell.yaml").write_text(text.replace("{file: points.csv}", said))
    with pytest.raises(CellFaults) as caught:
        load_cell(shop / name)
    assert len(caught.value.faults) == len(names)
    assert all("held axes stand" in f.came for f in caught.value.faults)


def test_a_held_joint_is_a_reading_too(shop):
    """Seven joints, joint 3 held: what the display shows of it goes through the readings map."""
    rows = "\n".join(
        f"  - {{a: {a} mm, alpha: {t} deg, d: {d} mm, limits: -170 170 deg, speed: 100 deg/s, "
        "acceleration: 300 deg/s2}"
        for a, t, d in [(0, 90, 300), (0, -90, 0), (0, 90, 400), (50, -90, 0), (0, 90, 400),
                        (80, -90, 0), (0, 0, 120)]
    )  # fmt: skip
    links = (
        "links: {drawn in: link frames, shapes: ["
        + ", ".join(f"{{link: {i}, mesh: none}}" for i in range(8))
        + "]}\n"
    )
    description = (
        f"format: 1\nname: Seven\nconvention: standard\njoints:\n{rows}\n"
        "tip: {speed: 1 m/s, acceleration: 3 m/s2}\n" + links
    )
    shown = "readings: {joints: [{joint: 3, sign: -1, zero: 10 deg}]}\n"
    (shop / "shop_arm" / "arm.yaml").write_text(description + shown)
    spoil(shop, "gate_hinge/cell.yaml", "{file: points.csv}",
          "{file: points.csv, rotation: fixed x-y-z, frame: base}")  # fmt: skip
    names = ["home", "approach", "weld start", "weld end", "retract"]
    poses = "\n".join(f"{n},-20,600,0,500,180,0,0" for n in names)
    (shop / "gate_hinge" / "points.csv").write_text(
        f"name,j3 deg,x mm,y mm,z mm,r1 deg,r2 deg,r3 deg\n{poses}\n"
    )
    cell = load_cell(shop / "gate_hinge")
    assert cell.points["home"].held[0] == pytest.approx(np.radians(30))
    coupled = shown.replace("zero: 10 deg", "coupled to: 2, coupling: -1")
    (shop / "shop_arm" / "arm.yaml").write_text(description + coupled)
    with pytest.raises(CellFaults, match="coupled to another joint"):
        load_cell(shop / "gate_hinge")
    # with all joint values given there is nothing left to ask
    joints = "\n".join(f"{n},10,20,30,40,50,60,70" for n in names)
    header = "name," + ",".join(f"j{i} deg" for i in range(1, 8))
    (shop / "gate_hinge" / "points.csv").write_text(f"{header}\n{joints}\n")
    q = load_cell(shop / "gate_hinge").points["home"].q
    assert np.degrees(q[2]) == pytest.approx(-30 - 20)


def test_only_a_rail_has_a_bed(shop):
    spoil(shop, "gate_hinge/cell.yaml", "at: 0 0 500 mm}", "at: 0 0 500 mm, bears: arm}")
    assert "stands on no rail" in only(shop).came


def test_a_table_that_only_stands_turned_is_looked_at_once(shop):
    """A wall just where a stop comes to stand at 90 deg; the program never turns the table."""
    for folder in ("turned_collar", "collar_seam"):
        shutil.copytree(SAMPLES / folder, shop / folder)
    points = shop / "turned_collar" / "points.csv"
    rows = [line.split(",") for line in points.read_text().splitlines()]
    rows = [rows[0]] + [[*row[:-1], "90"] for row in rows[1:]]
    points.write_text("\n".join(",".join(row) for row in rows) + "\n")
    spoil(shop, "turned_collar/cell.yaml", "via: half way, ", "")
    text = (shop / "turned_collar" / "cell.yaml").read_text()
    seam = next(line for line in text.splitlines() if "seam: weld end" in line)
    spoil(shop, "turned_collar/cell.yaml", seam, "  - {linear: weld end, speed: 20 mm/s}")
    clear = pathsim.check(load_cell(shop / "turned_collar"))
    assert not [f for f in clear.findings if f.piece == "left stop"]
    spoil(shop, "turned_collar/cell.yaml", "  - {name: turning plate",
          "  - {name: wall, role: other, mesh: ../shop/stop_block.stl, unit: mm, "
          "at: 830 0 720 mm}\n  - {name: turning plate")  # fmt: skip
    result = pathsim.check(load_cell(shop / "turned_collar"))
    hits = [f for f in result.findings if f.body == "wall" and f.piece == "left stop"]
    assert [f.move for f in hits] == [1] and hits[0].kind == "contact"


def test_poses_are_counted_from_where_the_display_counts_them(shop):
    """A display that counts from shoulder height, turned a quarter to the left."""
    frame = "readings: {poses from: {at: 0 0 430 mm, turned: 0 0 90 deg}}\n"
    spoil(shop, "gate_hinge/cell.yaml", "{file: points.csv}",
          "{file: points.csv, rotation: fixed x-y-z, frame: base}")  # fmt: skip
    names = ["home", "approach", "weld start", "weld end", "retract"]
    rows = "\n".join(f"{n},100,-800,50,180,0,0" for n in names)
    header = "name,x mm,y mm,z mm,r1 deg,r2 deg,r3 deg"
    (shop / "gate_hinge" / "points.csv").write_text(f"{header}\n{rows}\n")
    T = with_arm(shop, DRAWN + frame).points["home"].T_base_tcp
    np.testing.assert_allclose(T[:3, 3], [0.8, 0.1, 0.48], atol=1e-12)
    np.testing.assert_allclose(T[:3, :3], [[0, 1, 0], [1, 0, 0], [0, 0, -1]], atol=1e-12)


def test_limits_of_the_display(shop):
    """Given as displayed, limits of a coupled joint move with the other: said, and checked so."""
    said = (
        "readings: {limits: as displayed, joints: [{joint: 2, sign: -1, zero: 90 deg},"
        " {joint: 3, coupled to: 2, coupling: -1}]}\n"
    )
    arm = with_arm(shop, DRAWN + said).arm
    assert np.degrees([arm.lower[1], arm.upper[1]]) == pytest.approx([-20, 170])
    assert np.degrees([arm.lower[2], arm.upper[2]]) == pytest.approx([-75 - 110, 85 + 80])
    # forearm level on the display, whatever the upper arm does: 5 deg short of the limit
    q = arm.readings.model(np.radians([0, 40, 80, 0, 0, 0]))
    assert np.degrees(arm.room(q)[2]) == pytest.approx(5)
    with pytest.raises(CellFaults, match="of the model"):
        urdf = "urdf: {file: a.urdf, acceleration: 4 deg/s2}\n"
        with_arm(shop, "format: 1\nname: a\n" + urdf + "tip: {speed: 1 m/s, acceleration: 3 m/s2}\n"
                 "readings: {limits: as displayed}\n")  # fmt: skip


@pytest.mark.parametrize("sign", [1, -1])
def test_a_moving_limit_is_told_with_what_the_display_shows(shop, sign):
    text = DRAWN.replace("{limits: -75 85 deg", "{limits: -75 20 deg") + (
        "readings: {limits: as displayed, joints: [{joint: 6, zero: 180 deg},"
        f" {{joint: 3, sign: {sign}, coupled to: 2, coupling: -1}}]}}\n"
    )
    cell = with_arm(shop, text)
    result = pathsim.check(cell)
    told = [f.text for f in result.findings if f.kind == "joint limit" and f.level == "stop"]
    assert any(
        "Joint 3" in t and "20.0 deg on the display, which counts joint 2 too" in t for t in told
    ), told
    for f in result.findings:
        if f.kind == "joint limit" and f.level == "stop" and f.numbers["joint"] == 3:
            track = result.trajectory.tracks[f.move - 1]
            q = track.q[np.argmin(np.abs(track.t - f.time))].copy()
            assert q[2] == pytest.approx(f.numbers["value"])
            q[2] = f.numbers["limit"]
            shown = np.degrees(cell.arm.readings.shown(q))[2]
            assert min(abs(shown - 20), abs(shown + 75)) < 1e-6
    for track in result.trajectory.tracks:  # the law: told exactly where readings are past
        shown = np.degrees(cell.arm.readings.shown(track.q))[:, 2]
        named = any(
            f.move == track.number and f.numbers.get("joint") == 3 and f.level == "stop"
            for f in result.findings
        )
        assert named == bool((shown > 20 + 1e-6).any() or (shown < -75 - 1e-6).any())

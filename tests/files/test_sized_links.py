"""What ``within`` promises: every point within a radius of the arm's lines lies in a solid."""

import shutil

import fcl
import numpy as np
import pytest
import trimesh
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import pathsim
from pathsim.arm import Arm, Dimensions
from pathsim.clearance.obstacle import OWN_MARGIN
from pathsim.files.arm_schema import GirthEntry
from pathsim.files.sized_links import sized_links
from pathsim.geometry.solids import rod
from tests.files.test_arm_forms import DRAWN
from tests.files.test_cell_folder import SAMPLES

GIRTHS = (0.17, 0.095, 0.08, 0.06)
WITHIN = "links: {within: {base: 170 mm, upper arm: 95 mm, forearm: 80 mm, wrist: 60 mm}}\n"


def girth_of(base, upper, forearm, wrist):
    return GirthEntry.model_construct(base=base, upper_arm=upper, forearm=forearm, wrist=wrist)


def shells(mesh):
    """Planes of each closed convex shell of a mesh: ``[(normals, offsets)]``, outside positive."""
    whole = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    found = []
    for part in whole.split(only_watertight=True):
        assert part.is_watertight and part.is_convex and part.volume > 0
        found.append((part.face_normals, (part.face_normals * part.triangles[:, 0]).sum(axis=1)))
    assert found
    return found


def is_in(points, T, planes):
    """Which world ``points (n, 3)`` lie in one of a link's shells, the link standing at ``T``."""
    local = (points - T[:3, 3]) @ T[:3, :3]
    return np.any([(local @ n.T <= d + 1e-9).all(axis=1) for n, d in planes], axis=0)


def lines_of(arm, size, q):
    """The arm's own lines at ``q`` from its kinematics: ``{part: [(start, end)]}``."""
    frames, flange = arm.axis_frames(q), arm.pose(q)[:3, 3]
    shoulder, elbow, roll, wrist = (frames[k][:3, 3] for k in (1, 2, 3, 4))
    top = np.array([0.0, 0.0, shoulder[2]])
    corner = top + frames[0][:3, 0] * size.shoulder_offset
    along = frames[3][:3, 2]
    foot = roll + along * ((wrist - roll) @ along)  # where the wrist offset leaves axis 4
    return {
        "base": [(np.zeros(3), top), (top, shoulder), (top, corner), (corner, shoulder)],
        "upper": [(shoulder, elbow)],
        "forearm": [(elbow, roll), (roll, foot), (foot, wrist)],
        "wrist": [(wrist, flange)],
    }


#: Solids that may hold the room of a part: its own links, and what goes with the flange.
OWNERS = {"base": (0, 1), "upper": (2,), "forearm": (3, 4, 6), "wrist": (6,)}

lengths = st.one_of(st.just(0.0), st.floats(0.001, 0.9))
signed = st.one_of(st.just(0.0), st.floats(-0.4, 0.4).filter(lambda v: abs(v) > 1e-3))
radii = st.floats(0.01, 0.25)
any_size = st.builds(
    lambda **sizes: Dimensions(**sizes) if sizes["forearm"] or sizes["elbow_offset"] else None,
    shoulder_height=st.one_of(lengths, signed),
    shoulder_offset=signed,
    upper_arm=st.floats(0.01, 0.9),
    elbow_offset=signed,
    forearm=st.one_of(lengths, signed),
    flange=st.one_of(lengths, signed),
    shoulder_side=signed,
    wrist_offset=signed,
).filter(lambda size: size is not None)


@settings(max_examples=25, deadline=None)
@given(any_size, st.tuples(radii, radii, radii, radii), st.integers(0, 2**32 - 1))
def test_every_point_near_the_arms_lines_is_held(size, radii, seed):
    """Whatever the dimensions, the radii and the posture; the floor cuts the base off."""
    arm, rng = Arm.from_dimensions(size), np.random.default_rng(seed)
    girth = girth_of(*radii)
    made = sized_links(size, girth)
    planes = {k: shells(mesh) for k, mesh in enumerate(made.meshes) if mesh is not None}
    for q in (np.zeros(6), rng.uniform(-np.pi, np.pi, 6)):
        T = arm.link_poses(q)
        for part, lines in lines_of(arm, size, q).items():
            radius = dict(zip(OWNERS, radii, strict=True))[part]
            points = []
            for start, end in lines:
                way = rng.normal(size=(60, 3))
                way /= np.linalg.norm(way, axis=1, keepdims=True)
                share = np.concatenate([[0.0, 1.0], rng.uniform(size=58)])[:, None]
                points.append(start + share * (end - start) + way * radius)
            points = np.concatenate(points)
            if part == "base" and size.shoulder_height > 0:
                points = points[points[:, 2] >= 0]
            held = [is_in(points, T[k], planes[k]) for k in OWNERS[part] if k in planes]
            missed = points[~np.any(held, axis=0)] if held else points
            assert len(missed) == 0, (part, missed[:3])


sane = st.builds(
    Dimensions,
    shoulder_height=st.floats(0.3, 0.7),
    shoulder_offset=st.floats(0.0, 0.3),
    upper_arm=st.floats(0.35, 1.0),
    elbow_offset=st.floats(-0.05, 0.2),
    forearm=st.floats(0.1, 1.2),
    flange=st.floats(0.05, 0.2),
    shoulder_side=st.floats(-0.1, 0.1),
)


@settings(max_examples=25, deadline=None)
@given(sane, st.floats(-0.6, 0.6), st.floats(-3, 3), st.floats(-1.9, 1.9))
def test_links_are_apart_or_said_to_share_room(size, lean, roll, bend):
    """No pair is always in contact in silence: upright, what is measured is apart."""
    made = sized_links(size, girth_of(*GIRTHS))
    # Joint 3 sets the forearm square to the upper arm; joints 4 to 6 do as they like.
    q = np.array([0.3, lean, 0.0, roll, bend, 0.4])
    # The wrist may be bent back onto a forearm shorter than the hand is long: a real hit.
    assume(size.forearm / 2 > size.flange + 3 * GIRTHS[2] or abs(bend) < 0.3)
    T = Arm.from_dimensions(size).link_poses(q)
    for a in range(7):
        for b in range(a + 2, 7):
            if made.meshes[a] is None or made.meshes[b] is None or made.shared.are_joined(a, b):
                continue
            assert distance(made.meshes[a], T[a], made.meshes[b], T[b]) > OWN_MARGIN, (a, b)


def distance(one, T_one, other, T_other):
    objects = []
    for mesh, T in ((one, T_one), (other, T_other)):
        model = fcl.BVHModel()
        model.beginModel(len(mesh.vertices), len(mesh.faces))
        model.addSubModel(mesh.vertices, mesh.faces)
        model.endModel()
        objects.append(fcl.CollisionObject(model, fcl.Transform(T[:3, :3], T[:3, 3])))
    return fcl.distance(*objects, fcl.DistanceRequest(), fcl.DistanceResult())


def test_only_the_wrist_shares_room_on_an_arm_of_usual_build():
    made = sized_links(Dimensions(0.34, 0.06, 0.40, 0.04, 0.43, 0.08), girth_of(*GIRTHS))
    assert made.shared.joined == ((4, 6),) and made.shared.within == ((5, 6),)
    assert [k for k, mesh in enumerate(made.meshes) if mesh is None] == [5]


@pytest.mark.parametrize("flat", [(False, False), (True, False), (False, True), (True, True)])
def test_a_rod_holds_the_true_shape_and_ends_flat(flat):
    a, b, radius = np.array([0.1, -0.2, 0.3]), np.array([0.4, 0.5, 0.1]), 0.07
    mesh = rod(a, b, radius, flat_start=flat[0], flat_end=flat[1])
    (planes,) = shells(mesh)
    rng = np.random.default_rng(0)
    way = rng.normal(size=(4000, 3))
    way *= radius / np.linalg.norm(way, axis=1, keepdims=True)
    points = a + rng.uniform(size=(4000, 1)) * (b - a) + way
    along = (points - a) @ (b - a) / np.linalg.norm(b - a)
    true = (along >= 0 if flat[0] else True) & (along <= np.linalg.norm(b - a) if flat[1] else True)
    held = is_in(points, np.eye(4), [planes])
    assert held[true].all() if isinstance(true, np.ndarray) else held.all()
    heights = (mesh.vertices - a) @ (b - a) / np.linalg.norm(b - a)
    assert (heights.min() > -1e-9) == flat[0]
    assert (heights.max() < np.linalg.norm(b - a) + 1e-9) == flat[1]


@pytest.fixture
def cells(tmp_path):
    shutil.copytree(SAMPLES, tmp_path / "cells", ignore=shutil.ignore_patterns("*.png"))
    return tmp_path / "cells"


def sized(cells, file, girths=WITHIN):
    path = cells / file
    text = path.read_text()
    path.write_text(text[: text.index("links:")] + girths)


def test_a_sized_arm_can_be_used(cells):
    """The numbers of the README, on a spherical wrist: clear, and what is shared is said."""
    sized(cells, "hanging_rail/arm.yaml")
    result = pathsim.check(pathsim.load_cell(cells / "hanging_rail"))
    assert result.is_clear and not result.cell.shapeless_links
    assert result.cell.shared_room.joined == ((5, 7),)  # the slide stands in front
    said = {item.what: item.why for item in result.left_out}
    assert "the torch is not measured against it" in said["link 5 on its own"]
    assert "share the room of the joint" in said["link 6 against link 4 and cables on them"]


def test_the_torch_is_measured_against_the_forearm(cells):
    """Joint 5 folds the torch back into the forearm's room: told, on castings of any kind."""
    (cells / "shop_arm" / "arm.yaml").write_text(DRAWN)
    points = cells / "gate_hinge" / "points.csv"
    lines = points.read_text().splitlines()
    folded = [line if not line.startswith("home") else "home,60,-20,25,0,-124,0" for line in lines]
    assert folded != lines
    points.write_text("\n".join(folded) + "\n")
    result = pathsim.check(pathsim.load_cell(cells / "gate_hinge"))
    hits = [(f.piece, f.body) for f in result.findings if f.kind == "contact"]
    assert ("torch body", "link 4") in hits or ("torch body", "link 3") in hits, [
        (str(f.kind), f.text) for f in result.findings
    ]


def test_a_beam_in_the_promised_room_is_hit(cells):
    """A bar 30 mm inside the room along axis 4, where a slanted capsule left it free."""
    description = DRAWN.replace("elbow offset: 130 mm", "elbow offset: 250 mm")
    (cells / "shop_arm" / "arm.yaml").write_text(description)
    cell = pathsim.load_cell(cells / "gate_hinge")
    bar = trimesh.creation.box((0.02, 0.6, 0.02))
    # At home the arm stands as taught; the bar lies across axis 4, 50 mm off it on the outside.
    q = cell.points["home"].q
    frame = cell.T_world_base @ cell.arm.axis_frames(q)[3]
    up = cell.arm.axis_frames(q)[3][:3, 3] - cell.arm.axis_frames(q)[2][:3, 3]
    up = cell.T_world_base[:3, :3] @ (up / np.linalg.norm(up))
    at = frame[:3, 3] + 0.06 * frame[:3, 2] + up * (0.080 - 0.030 + 0.010)
    across = np.cross(frame[:3, 2], up)
    T = np.eye(4)
    T[:3, :3] = np.column_stack([frame[:3, 2], across, up])
    T[:3, 3] = at
    bar.apply_transform(T)
    bar.export(cells / "gate_hinge" / "bar.stl")
    file = cells / "gate_hinge" / "cell.yaml"
    text = file.read_text().replace(
        "\nbodies:",
        "\nbodies:\n  - {name: bar, role: other, mesh: bar.stl, unit: m, at: 0 0 0 mm}",
        1,
    )
    file.write_text(text)
    result = pathsim.check(pathsim.load_cell(cells / "gate_hinge"))
    assert ("link 3", "bar") in {
        (f.piece, f.body) for f in result.findings if f.kind == "contact"
    }, [f.text for f in result.findings]

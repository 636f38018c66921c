"""Work and travel angle by hand, over every kind of joint, and along whole seams."""

import dataclasses

import numpy as np
import pytest
import trimesh

from pathsim.findings.angle_words import angles_in_words, from_to
from pathsim.findings.spread import Spread
from pathsim.findings.torch_angles import (
    SeamAngles,
    over_face,
    seam_angles,
    travel_angles,
    work_angle,
)
from pathsim.findings.weld_section import Joint, section_at
from pathsim.model import Mesh, Role
from pathsim.motion import plan_program
from pathsim.transforms import pose, rotation_about
from tests.builders import body, box, seam
from tests.motion.seam_cells import HOME, seam_cell

X, Z = np.array([1.0, 0, 0]), np.array([0, 0, 1.0])


def prism(corners):
    """A bar along x over a convex polygon ``(y, z)`` in mm."""
    y, z = np.array(corners, float).T / 1e3
    ends = [np.column_stack([np.full(len(y), x), y, z]) for x in (-0.2, 0.2)]
    shape = trimesh.convex.convex_hull(np.concatenate(ends))
    return Mesh(shape.vertices, shape.faces)


def together(*meshes):
    """One mesh of several."""
    shape = trimesh.util.concatenate([trimesh.Trimesh(m.vertices, m.faces) for m in meshes])
    return Mesh(shape.vertices, shape.faces)


PLATE = body(prism([(-100, -10), (100, -10), (100, 0), (-100, 0)]), "plate", Role.PART)


def leaning(degrees, height=80.0, thick=8.0):
    """A web on the plate; its front face starts at y = 0, z = 0 and stands so steep over +y."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    up, foot = np.array([c, s]) * height, np.array([-thick / s, 0.0])
    return body(prism([(0, 0), up, up + foot, foot]), "web", Role.PART)


def plates(left, right):
    return [
        body(prism(left), "left plate", Role.PART),
        body(prism(right), "right plate", Role.PART),
    ]


def torch(lean_to_y, travel=0.0, at=(0, 0, 0)):
    """Tool pose of a torch that leans from upright towards +y, and by ``travel`` deg along +x."""
    w, t = np.radians([lean_to_y, travel])
    e = np.array([np.sin(t), np.cos(t) * np.sin(w), np.cos(t) * np.cos(w)])
    z = -e
    x = np.cross([0, 1.0, 0.1], z)
    x /= np.linalg.norm(x)
    return pose(np.column_stack([x, np.cross(z, x), z]), np.asarray(at, float) / 1e3)


ROOT = 8 / 3**0.5  # a side at 30 deg over the 8 mm above a root face of 2 mm
V60 = plates(
    [(0, 0), (0, 2), (-ROOT, 10), (-100, 10), (-100, 0)],
    [(0, 0), (0, 2), (ROOT, 10), (100, 10), (100, 0)],
)
BEVEL = plates([(-1, 0), (-1, 10), (-100, 10), (-100, 0)], [(1, 0), (100, 0), (100, 10), (11, 10)])
SQUARE = plates([(-1, -6), (-1, 0), (-100, 0), (-100, -6)], [(1, -6), (1, 0), (100, 0), (100, -6)])
LAP = [PLATE, body(prism([(0, 0), (0, 3), (-80, 3), (-80, 0)]), "lapped sheet", Role.PART)]
ONE_MESH = [body(together(PLATE.mesh, leaning(90).mesh), "tee", Role.PART)]

#: Bodies, how far the torch leans from upright towards +y (the left of travel along +x; the web and
#: the lapped sheet are on the right), the joint, the work angle, and how steep the torch stands
#: over the face counted from and the other one; of a groove over its left and its right side.
JOINTS = {
    "square tee": ([PLATE, leaning(90)], 45, Joint.CORNER, 45, (45, 45)),
    "square tee, flat torch": ([PLATE, leaning(90)], 60, Joint.CORNER, 60, (30, 60)),
    # taken as square to each other, the two faces of these read 45 for 30 and for 60
    "tee of 120 deg": ([PLATE, leaning(120)], 30, Joint.CORNER, 30, (60, 60)),
    "tee of 60 deg": ([PLATE, leaning(60)], 60, Joint.CORNER, 60, (30, 30)),
    "tee as one mesh": (ONE_MESH, 45, Joint.CORNER, 45, (45, 45)),
    "lap": (LAP, 45, Joint.CORNER, 45, (45, 45)),
    "lap, torch upright": (LAP, 0, Joint.CORNER, 0, (90, 0)),
    # the torch square to the plates stands 30 deg off either side of a groove of 60
    "V groove of 60 deg": (V60, 0, Joint.LEVEL, 0, (30, 30)),
    "V groove of 60 deg, leaning": (V60, 10, Joint.LEVEL, 10, (20, 40)),
    "single bevel of 45 deg": (BEVEL, 0, Joint.LEVEL, 0, (45, 0)),
    "square butt": (SQUARE, 0, Joint.LEVEL, 0, ()),
    "square butt, leaning": (SQUARE, -10, Joint.LEVEL, -10, ()),
    "bead on plate": ([PLATE], 15, Joint.LEVEL, 15, ()),
}


@pytest.mark.parametrize("travel", [0.0, 25.0, -12.0])
@pytest.mark.parametrize("name", JOINTS)
def test_work_angle_over_every_kind_of_joint(name, travel):
    parts, lean, joint, work, over = JOINTS[name]
    for way in (1.0, -1.0):  # run the other way, left and right change, and push and drag
        found = section_at(parts, torch(lean, travel), way * X, Z)
        assert found.joint is joint
        sign = way if joint is Joint.LEVEL else 1.0
        angle = np.degrees(work_angle(found.square_to, found.other))
        assert angle == pytest.approx(sign * work, abs=1e-6)
        faces = found.faces if found.other is None else (found.square_to, found.other)
        steep = [np.degrees(over_face(n)) for n in faces]
        expected = over[:: int(sign)]
        assert steep == pytest.approx(expected, abs=1e-6)
        e = -torch(lean, travel)[None, :3, 2]
        assert np.degrees(travel_angles(e, way * X[None])) == pytest.approx(way * travel)


# Modern Welding 2013 pp. 68 and 70 (AWS A3.0): travel x, non-butting normal z, butting normal -y.
@pytest.mark.parametrize(
    ("work", "travel", "e"),
    [(45, -10, (-0.173648, -0.696364, 0.696364)), (45, 15, (0.258819, -0.683013, 0.683013))],
)
def test_published_definitions(work, travel, e):
    e = np.array(e)
    assert np.degrees(travel_angles(e[None], X[None])) == pytest.approx(travel, abs=1e-4)
    x = np.cross([0.0, 1, 0.2], -e)
    x /= np.linalg.norm(x)
    T = pose(np.column_stack([x, np.cross(-e, x), -e]), np.zeros(3))
    web = body(prism([(0, 0), (0, 80), (8, 80), (8, 0)]), "web", Role.PART)
    found = section_at([PLATE, web], T, X, Z)
    assert np.degrees(work_angle(found.square_to, found.other)) == pytest.approx(work, abs=1e-4)


@pytest.mark.parametrize("name", ["square tee", "lap", "tee of 60 deg"])
def test_the_plate_that_goes_through_is_counted_from_however_the_part_lies(name):
    parts, lean, _, work, _ = JOINTS[name]
    for turn in (0, 90, 135, 200):
        T = pose(rotation_about([1.0, 0, 0], np.radians(turn)), [0.3, 0.1, 0.2])
        turned = [dataclasses.replace(b, T_world_body=T) for b in parts]
        found = section_at(turned, T @ torch(lean), X, Z)
        assert found.body == "plate" and found.goes_through
        assert np.degrees(work_angle(found.square_to, found.other)) == pytest.approx(work)


def test_of_two_plates_of_which_none_goes_through_the_flatter_one():
    thin = body(prism([(0, -2), (100, -2), (100, 0), (0, 0)]), "plate", Role.PART)
    wall = body(prism([(0, -80), (0, 80), (-2, 80), (-2, -80)]), "wall", Role.PART)
    ends = body(prism([(0, 0), (0, 80), (-2, 80), (-2, 0)]), "wall", Role.PART)
    found = section_at([thin, ends], torch(30), X, Z)
    assert (found.body, found.goes_through) == ("plate", False)
    found = section_at([thin, wall], torch(30), X, Z)
    assert (found.body, found.goes_through) == ("wall", True)
    assert np.degrees(work_angle(found.square_to, found.other)) == pytest.approx(60)


def test_nothing_near_and_a_torch_along_the_seam():
    assert section_at([PLATE], torch(0, at=(0, 0, 60)), X, Z) is None
    assert section_at([PLATE], torch(0, 90), X, Z) is None


def test_a_mesh_that_is_drawn_inside_out_gives_the_same():
    block = body(box((0.4, 0.2, 0.03), (0, 0, -0.015)), "plate", Role.PART)
    flipped = dataclasses.replace(block, mesh=Mesh(block.mesh.vertices, block.mesh.faces[:, ::-1]))
    found = section_at([flipped, leaning(90)], torch(45), X, Z)
    assert found.joint is Joint.CORNER and found.body == "plate"


def on_a_seam(parts=(), turn=0.0):
    """A seam of 60 mm along x; at its end the torch is turned by ``turn`` deg about the seam."""
    c = seam_cell({"end": (0.06, 0, 0)}, [seam("end", 0.005)])
    point = c.points["end"]
    R = rotation_about([1.0, 0, 0], np.radians(turn))
    T = point.T_base_tcp.copy()
    T[:3, :3] = R @ T[:3, :3]
    points = {**c.points, "end": dataclasses.replace(point, T_base_tcp=T)}
    c = dataclasses.replace(c, points=points, bodies=tuple(parts))
    return c, plan_program(c).tracks[0]


def test_travel_angle_needs_no_plates():
    c, track = on_a_seam()
    found = seam_angles(c, track)
    e = -c.tool_poses(HOME[None])[0, :3, 2]
    assert found.travel.middle == pytest.approx(np.arcsin(e[0]), abs=1e-3)
    assert found.work is None and "no part's face is near" in angles_in_words(found)


def test_least_and_most_along_the_whole_seam():
    c, _ = on_a_seam()
    tip = c.tips(HOME[None])[0]
    floor = body(box((0.5, 0.5, 0.01), (tip[0], tip[1], tip[2] - 0.005)), "floor", Role.PART)
    still, turned = (seam_angles(*on_a_seam([floor], turn)) for turn in (0.0, 8.0))
    assert still.joint is Joint.LEVEL
    assert still.work.most - still.work.least < 2e-3
    # the ends themselves are left out: 1 mm of 60, and the wire there
    spread = np.degrees(turned.work.most - turned.work.least)
    assert spread == pytest.approx(8 * (1 - 2 / 60), abs=0.1)
    middle = np.degrees(turned.work.middle - still.work.middle)
    assert abs(middle) == pytest.approx(4.0, abs=0.1)


def one(least, most=None):
    low, high = np.radians([least, least if most is None else most])
    return Spread(low, high, (low + high) / 2)


@pytest.mark.parametrize(
    ("angles", "said"),
    [
        (SeamAngles(one(-7), None, Joint.CORNER, one(45), (one(45), one(45)), "plate", True, 1.0),
         "work angle 45 deg from the line square to the plate, travel angle 7 deg push"),
        (SeamAngles(one(-3, 2), None, Joint.CORNER, one(28, 33), (one(57, 62), one(58, 63)), "base",
                    True, 0.9),
         "work angle 28 to 33 deg from the line square to the base, 57 to 62 deg over its face and "
         "58 to 63 deg over the other, told on 90 % of the seam, "
         "travel angle from 3 deg push to 2 deg drag"),
        (SeamAngles(one(4, 9), None, Joint.LEVEL, one(-3, -1), (one(30), one(30)), "a", False, 1.0),
         "work angle 1 to 3 deg right from the line square to the plates, 30 deg over the left "
         "face of the groove and 30 deg over the right, travel angle 4 to 9 deg drag"),
        (SeamAngles(one(0.2), None, Joint.CORNER, one(45), (one(45), one(45)), "a", False, 1.0),
         "work angle 45 deg from the line square to the a (taken as the plate that goes through: "
         "it is the flatter one), travel angle 0 deg"),
    ],
)  # fmt: skip
def test_in_words(angles, said):
    assert angles_in_words(angles) == said


@pytest.mark.parametrize(
    ("least", "most", "said"),
    [
        (-0.3, 0.4, "0 deg"),
        (-0.3, -0.2, "0 deg"),
        (44.4, 46.4, "44 to 46 deg"),
        (-3, 0, "-3 to 0 deg"),
    ],
)
def test_a_spread_that_rounds_to_nothing_has_no_sign(least, most, said):
    assert from_to(one(least, most)) == said

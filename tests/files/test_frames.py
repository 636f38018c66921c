"""Poses counted from a jig or from the turning table; a mesh library that is named once."""

import re
import shutil

import numpy as np
import pytest

from pathsim import load_cell, pose_at
from pathsim.advice.keyed_in import angles_of
from pathsim.motion.targets import Targets
from pathsim.transforms import inverse
from tests.files.test_cell_folder import SAMPLES, faults, only, shop, spoil

__all__ = ["shop"]
JIG = pose_at([0.9, 0.1, 0.72], turned=[0.0, 0.1, 0.4])
ENTRY = "{at: 900 100 720 mm, turned: 0 0.1 0.4 rad"


def with_collar(shop):
    for name in ("turned_collar", "collar_seam"):
        shutil.copytree(SAMPLES / name, shop / name, dirs_exist_ok=True)


def in_frame(shop, name, frame, T_world_frame, groups="", on_table=False):
    """Write a sample's points as poses in a frame, each with its table's angle; return its cell."""
    cell = load_cell(SAMPLES / name)
    targets, lines = Targets(cell), ["name,x m,y m,z m,r1 rad,r2 rad,r3 rad"]
    if cell.table is not None:
        lines[0] = "name,table rad,x m,y m,z m,r1 rad,r2 rad,r3 rad"
    for point in cell.points.values():
        T = cell.T_world_base @ targets.tool_pose(point.name)
        table = [] if cell.table is None else [point.q[-1]]
        if on_table:
            T = inverse(cell.table.motion(point.q[-1:])) @ T
        T = inverse(T_world_frame) @ T
        numbers = [*table, *T[:3, 3], *angles_of("fixed x-y-z", T[:3, :3])]
        lines.append(f"{point.name}," + ",".join(repr(float(v)) for v in numbers))
    (shop / name / "poses.csv").write_text("\n".join(lines), encoding="utf-8")
    path = shop / name / "cell.yaml"
    text = path.read_text(encoding="utf-8")
    entry = f"points: {{file: poses.csv, rotation: fixed x-y-z, frame: {frame}}}"
    text, count = re.subn(r"(?m)^points:.*$", entry, text)
    assert count == 1
    path.write_text(text + groups, encoding="utf-8")
    return cell


def same_poses(one, other):
    for name in one.points:
        np.testing.assert_allclose(
            Targets(one).tool_pose(name), Targets(other).tool_pose(name), atol=1e-9
        )


def test_poses_in_the_frame_of_a_jig(shop):
    cell = in_frame(shop, "gate_hinge", "jig", JIG, f"\ngroups:\n  jig: {ENTRY}}}\n")
    same_poses(cell, load_cell(shop / "gate_hinge"))


@pytest.mark.parametrize("frame", ["jig", "turning table"])
def test_poses_on_the_turning_table_turn_with_it(shop, frame):
    with_collar(shop)
    table = load_cell(SAMPLES / "turned_collar").table
    T = JIG if frame == "jig" else table.T_world_axis
    groups = f"\ngroups:\n  jig: {ENTRY}, on: turning table}}\n"
    cell = in_frame(shop, "turned_collar", frame, T, groups, on_table=True)
    assert any(abs(point.q[-1]) > 0.1 for point in cell.points.values())
    same_poses(cell, load_cell(shop / "turned_collar"))


def test_a_jig_on_the_floor_does_not_turn_with_the_table(shop):
    with_collar(shop)
    cell = in_frame(shop, "turned_collar", "jig", JIG, f"\ngroups:\n  jig: {ENTRY}}}\n")
    same_poses(cell, load_cell(shop / "turned_collar"))


def test_a_frame_that_is_not_there_is_a_fault(shop):
    in_frame(shop, "gate_hinge", "jgi", JIG, f"\ngroups:\n  jig: {ENTRY}}}\n")
    found = [fault for fault in faults(shop) if fault.key == "points.frame"]
    assert len(found) == 1
    assert "base, world, jig" in found[0].expected and "'jig'" in found[0].cure


def test_meshes_that_are_not_beside_the_cell_lie_in_the_library(shop):
    """What is beside the cell comes first; a mesh that is in neither is a fault with its path."""
    cell = load_cell(shop / "gate_hinge")
    spoil(shop, "gate_hinge/cell.yaml", "mesh: ../gate_hinge/gate_post.stl", "mesh: gate_post.stl")
    (shop / "library").mkdir()
    (shop / "gate_hinge/gate_post.stl").rename(shop / "library/gate_post.stl")
    assert "gate_post.stl" in only(shop).came
    spoil(shop, "gate_hinge/cell.yaml", "\nbodies:", "\nmesh folder: ../library\nbodies:")
    again = load_cell(shop / "gate_hinge")
    assert [b.mesh.digest for b in again.bodies] == [b.mesh.digest for b in cell.bodies]
    (shop / "library/gate_post.stl").unlink()
    assert "../library/gate_post.stl" in only(shop).came
    spoil(shop, "gate_hinge/cell.yaml", "../library", "/library")
    assert "absolute path" in only(shop).came

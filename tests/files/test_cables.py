"""Cables in a cell file: what is read, and what each fault says."""

import shutil

import numpy as np
import pytest

from pathsim import load_cell
from tests.files.test_cell_folder import SAMPLES, only, shop, spoil

__all__ = ["shop"]
CABLE = "  - {name: hose, on: torch, points: [0 0 10 mm, 0 0 60 mm], radius: 8 mm, slack: 5 mm}\n"


def with_cables(shop, text, cell="gate_hinge"):
    spoil(shop, f"{cell}/cell.yaml", "points: {file", f"cables:\n{text}\npoints: {{file")


def test_a_cable_is_read_in_si(shop):
    with_cables(shop, CABLE)
    (cable,) = load_cell(shop / "gate_hinge").cables
    assert (cable.name, cable.link, cable.margin) == ("hose", 6, None)
    assert (cable.radius, cable.slack) == pytest.approx((0.008, 0.005))
    np.testing.assert_allclose(cable.points, [[0, 0, 0.01], [0, 0, 0.06]])


@pytest.mark.parametrize(
    ("on", "link"), [("torch", 6), ("flange", 6), ("link 3", 3), ("3", 3), ("Link 6", 6)]
)
def test_links_are_named_as_in_results(shop, on, link):
    with_cables(shop, CABLE.replace("on: torch", f"on: {on}"))
    assert load_cell(shop / "gate_hinge").cables[0].link == link


def test_on_a_rail_links_are_counted_behind_the_slide(tmp_path):
    for name in ("shop", "shop_arm", "bench_arm", "gate_hinge", "hanging_rail"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    text = CABLE.replace("on: torch", "on: link 2") + CABLE.replace(
        "hose, on: torch", "other hose, on: rail slide"
    )
    with_cables(tmp_path, text, "hanging_rail")
    assert [c.link for c in load_cell(tmp_path / "hanging_rail").cables] == [3, 1]


def test_drawn_with_every_joint_at_zero_it_is_put_into_its_link(shop):
    with_cables(shop, CABLE.replace("on: torch", "on: link 3, drawn in: base frame at zero"))
    cell = load_cell(shop / "gate_hinge")
    T = cell.arm.link_poses(np.zeros((1, 6)))[0][3]
    seen = cell.cables[0].points @ T[:3, :3].T + T[:3, 3]
    np.testing.assert_allclose(seen, [[0, 0, 0.01], [0, 0, 0.06]], atol=1e-12)


FAULTS = [
    ("on: torch", "on: lnk 3", "cables[1].on", "Did you mean 'link 3'?"),
    ("on: torch", "on: link 7", "cables[1].on", "link 6"),
    ("on: torch", "on: arm base", "cables[1].on", "give it as a body"),
    ("on: torch", "on: [link 3, torch]", "cables[1].on", "free span"),
    ("on: torch", "on: link 3 to torch", "cables[1].on", "free span"),
    ("0 0 10 mm, 0 0 60 mm", "{on: link 3, at: 0 0 1 mm}, 0 0 9 mm", "cables[1].points", "free"),
    ("0 0 10 mm, 0 0 60 mm", "0 0 10 mm", "cables[1].points", "at least two places"),
    ("0 0 10 mm, 0 0 60 mm", "", "cables[1].points", "no point"),
    ("0 0 60 mm", "0 0 10 mm", "cables[1].points[2]", "points 1 and 2 are at one place"),
    ("0 0 60 mm", "0 0 nan mm", "cables[1].points[2]", "3 numbers"),
    ("0 0 60 mm", "0 60 mm", "cables[1].points[2]", "3 numbers"),
    ("0 0 60 mm", "0 0 60", "cables[1].points[2]", "no unit"),
    ("radius: 8 mm", "radius: 0 mm", "cables[1].radius", "above 0"),
    ("radius: 8 mm", "radius: -8 mm", "cables[1].radius", "above 0"),
    ("radius: 8 mm", "radius: 8", "cables[1].radius", "no unit"),
    ("radius: 8 mm", "radius: 8 m", "cables[1].radius", "is the unit right"),
    ("radius: 8 mm", "radius: .nan", "cables[1].radius", "not a number"),
    ("slack: 5 mm", "slack: -5 mm", "cables[1].slack", "at least 0"),
    ("slack: 5 mm", "margin: -5 mm", "cables[1].margin", "at least 0"),
    ("slack: 5 mm", "slak: 5 mm", "cables[1].slak", "mean 'slack'"),
    ("radius: 8 mm, ", "", "cables[1].radius", "is missing"),
    ("name: hose", "name: wire", "cables[1].name", "taken"),
    ("name: hose", "name: link 4", "cables[1].name", "taken by the arm"),
    ("name: hose", "name: Neck", "cables[1].name", "taken"),
    ("name: hose", "name: left clamp", "cables[1].name", "taken"),
]


@pytest.mark.parametrize(("old", "new", "key", "says"), FAULTS, ids=[f[1] or f[3] for f in FAULTS])
def test_each_fault_of_a_cable_is_one_message_with_its_line(shop, old, new, key, says):
    assert old in CABLE
    with_cables(shop, CABLE.replace(old, new))
    fault = only(shop)
    assert (fault.file, fault.line, fault.key) == ("gate_hinge/cell.yaml", 18, key)
    assert says in str(fault) and fault.expected


def test_two_cables_of_one_name(shop):
    with_cables(shop, CABLE + CABLE.replace("hose", "Hose"))
    fault = only(shop)
    assert (fault.line, fault.key) == (19, "cables[2].name") and "line 18" in fault.came

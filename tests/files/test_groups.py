"""Groups, and places that are only known so well."""

import dataclasses

import numpy as np
import pytest

from pathsim import Body, CellError, Group, Level, check, load_cell, pose_at, save_cell
from pathsim.findings.kinds import FindingKind
from tests.files.test_cell_folder import SAMPLES, faults, only, shop, spoil

__all__ = ["shop"]
CLAMP = "unit: mm, at: 840 115 720 mm"
JIG = "groups:\n  jig: {at: 800 100 700 mm, turned: 0 0 90 deg, known to: 2 mm}\nbodies:"


def with_jig(shop, more=""):
    spoil(shop, "gate_hinge/cell.yaml", "bodies:", JIG)
    # Seen from the jig, which is turned by 90 deg: 40 mm along the world's x is -y of the jig.
    spoil(shop, "gate_hinge/cell.yaml", CLAMP,
          f"unit: mm, on: jig, at: 15 -40 20 mm, turned: 0 0 -90 deg{more}")  # fmt: skip


def known_within(shop, low, high):
    box = f"known to: 2 mm, known within: {{from: {low}, to: {high}}}}}"
    spoil(shop, "gate_hinge/cell.yaml", "known to: 2 mm}", box)


def test_bodies_on_a_group_stand_where_the_group_puts_them(shop):
    with_jig(shop)
    there, plain = load_cell(shop / "gate_hinge"), load_cell(SAMPLES / "gate_hinge")
    found, expected = there.body("left clamp"), plain.body("left clamp")
    assert found.T_world_body == pytest.approx(expected.T_world_body, abs=1e-12)
    assert found.known_to == pytest.approx(0.002)
    assert there.body("right clamp").known_to == 0


def test_margins_are_wider_by_what_is_not_known_and_it_is_said(shop):
    with_jig(shop, ", known to: 0.5 mm")
    wide, plain = check(load_cell(shop / "gate_hinge")), check(load_cell(SAMPLES / "gate_hinge"))
    rows = wide.clearances
    of_clamp = rows["body"] == "left clamp"
    assert of_clamp.any()
    extra = rows["margin"] - plain.clearances["margin"]
    assert extra[of_clamp] == pytest.approx(0.0025)
    assert not extra[~of_clamp].any()
    assert rows["lower"] == pytest.approx(plain.clearances["lower"], abs=2e-5)
    [note] = [f for f in wide.findings if f.kind is FindingKind.PLACE_UNCERTAIN]
    assert note.level is Level.NOTE
    assert "left clamp: place known to 2.5 mm" in note.text


def test_what_is_clear_by_less_than_is_known_is_no_longer_clear():
    plain = check(load_cell(SAMPLES / "gate_hinge"))
    rows = plain.clearances[plain.clearances["body"] == "left clamp"]
    spare = float((rows["lower"] - rows["margin"]).min())
    most = float((rows["upper"] - rows["margin"]).min())
    assert 0 < spare <= most < 0.029
    for known, clear in ((spare - 2e-4, True), (most + 2e-4, False)):
        cell = load_cell(SAMPLES / "gate_hinge")
        body = cell.body("left clamp")
        result = check(cell.with_body(dataclasses.replace(body, known_to=known)))
        near = [f for f in result.findings if f.kind is FindingKind.NEAR_HIT]
        assert result.is_clear is clear
        if near:
            assert f"of which {known * 1e3:.1f} mm for how well its place is known" in near[0].text
    assert not clear


def test_it_is_saved_and_comes_back(shop):
    with_jig(shop)
    cell = load_cell(shop / "gate_hinge")
    save_cell(cell, shop / "saved")
    again = load_cell(shop / "saved").body("left clamp")
    assert again.known_to == pytest.approx(0.002)
    np.testing.assert_allclose(again.T_world_body, cell.body("left clamp").T_world_body, atol=1e-12)


@pytest.mark.parametrize(
    ("old", "new", "came", "expected"),
    [
        ("on: jig", "on: jigg", "on 'jigg'", "jig"),
        ("known to: 2 mm", "known to: 40 mm", "40 mm only", "30 mm or better"),
        ("known to: 2 mm", "on: turning table", "names the turning table", "turning table"),
        ("on: jig", "on: jig, bears: arm", "'on' and 'bears'", "it turns or it stands"),
    ],
)
def test_what_cannot_be_is_a_fault(shop, old, new, came, expected):
    with_jig(shop)
    spoil(shop, "gate_hinge/cell.yaml", old, new)
    if "jigg" in new:
        assert any(came in f.came and expected in f.cure + f.expected for f in faults(shop))
        return
    fault = only(shop)
    assert came in fault.came
    assert expected in fault.expected


def test_a_group_comes_back_as_a_group(shop):
    with_jig(shop, ", known to: 0.5 mm")
    cell = load_cell(shop / "gate_hinge")
    save_cell(cell, shop / "saved")
    assert "on: jig" in (shop / "saved/cell.yaml").read_text(encoding="utf-8")
    again = load_cell(shop / "saved")
    [group] = again.groups
    assert (group.name, group.known_to) == ("jig", pytest.approx(0.002))
    assert again.body("left clamp").group == "jig"
    assert again.body("left clamp").known_to == pytest.approx(0.0025)
    for one, other in zip(cell.bodies, again.bodies, strict=True):
        np.testing.assert_allclose(one.T_world_body, other.T_world_body, atol=1e-12)


def test_a_group_moves_its_bodies_and_says_how_well_they_are_known(shop):
    with_jig(shop, ", known to: 0.5 mm")
    cell = load_cell(shop / "gate_hinge")
    [jig] = cell.groups
    T = pose_at([0.01, -0.02, 0.03], turned=[0.0, 0.0, 0.2]) @ jig.T_world_group
    moved = cell.with_group(dataclasses.replace(jig, T_world_group=T, known_to=0.004))
    in_jig = np.linalg.inv(jig.T_world_group) @ cell.body("left clamp").T_world_body
    np.testing.assert_allclose(moved.body("left clamp").T_world_body, T @ in_jig, atol=1e-12)
    assert moved.body("left clamp").known_to == pytest.approx(0.0045)
    assert moved.body("right clamp") is cell.body("right clamp")
    assert cell.without_body("left clamp").groups == cell.groups


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"known_to": 0.001}, "at least 0.002 m, as its group"),
        ({"group": "jigg"}, "did you mean 'jig'"),
        ({"T_world_body": pose_at([5, 0, 0])}, "known to 2 mm"),
        ({"bears": "arm"}, "it stands on a group"),
    ],
)
def test_a_body_stands_as_its_group_does(shop, change, says):
    with_jig(shop)
    known_within(shop, "-300 -300 -100 mm", "300 300 300 mm")
    cell = load_cell(shop / "gate_hinge")
    with pytest.raises(CellError, match=says):
        cell.with_body(dataclasses.replace(cell.body("left clamp"), **change))


def test_a_body_put_far_out_on_a_jig_is_not_known_as_well_as_the_jig(shop):
    """A jig that is turned a little is off by more farther out: its number holds in its box."""
    with_jig(shop)
    known_within(shop, "-300 -300 -60 mm", "300 300 300 mm")
    load_cell(shop / "gate_hinge")
    spoil(shop, "gate_hinge/cell.yaml", "at: 15 -40 20 mm", "at: 615 -40 20 mm")
    fault = only(shop)
    assert "'left clamp' reaches" in fault.came and "known to 2 mm" in fault.came
    assert "pathsim place" in fault.cure


def test_a_clear_number_below_what_is_known_says_that_it_may_touch():
    cell = load_cell(SAMPLES / "gate_hinge")
    rows = check(cell).clearances
    [least] = rows[rows["lower"] == rows["lower"][(rows["lower"] > 0.002) & (rows["of"] == "scene")
                                                  ].min()]  # fmt: skip
    assert 0.002 < least["lower"] < 0.029
    for known, may in ((least["lower"] - 1e-4, False), (least["upper"] + 1e-4, True)):
        body = dataclasses.replace(cell.body(str(least["body"])), known_to=float(known))
        result = check(cell.with_body(body))
        near = [f for f in result.findings if f.kind is FindingKind.NEAR_HIT]
        assert near and any("It may touch" in finding.text for finding in near) is may


def test_a_seam_on_a_part_that_is_not_exactly_known_is_said_to_be_off():
    cell = load_cell(SAMPLES / "gate_hinge")
    plain = check(cell)
    part = plain.seam_places[0].start.part
    for name, said in ((part, True), ("left clamp", False)):
        body = dataclasses.replace(cell.body(name), known_to=0.0008)
        [note] = [f for f in check(cell.with_body(body)).findings
                  if f.kind is FindingKind.PLACE_UNCERTAIN]  # fmt: skip
        assert (f"A seam on {name} may be off its joint" in note.text) is said


def test_makers_of_bodies_take_group_and_how_well_they_are_known():
    cell = load_cell(SAMPLES / "gate_hinge")
    mesh = cell.body("left clamp").mesh
    body = Body.from_arrays("stop", 1e3 * mesh.vertices, mesh.faces, unit="mm", role="fixture",
                            T_world_body=pose_at([0.5, 0.9, 0.8]), known_to=0.003,
                            group="jig")  # fmt: skip
    made = cell.with_group(Group("jig", pose_at([0.5, 0.9, 0.7]), known_to=0.002)).with_body(body)
    assert made.body("stop").off_by == 0.003
    moved = made.with_group(Group("jig", pose_at([0.6, 0.9, 0.7])))
    assert moved.body("stop").known_to == pytest.approx(0.001)
    assert moved.body("stop").T_world_body[:3, 3] == pytest.approx([0.6, 0.9, 0.8])


def test_on_something_that_is_no_group_says_which_there_are_and_how_to_add_one(shop):
    spoil(
        shop,
        "gate_hinge/cell.yaml",
        "  - {name: left clamp,",
        "  - {on: fixture, name: left clamp,",
    )
    [fault] = [f for f in faults(shop) if f.key.endswith(".on")]
    assert fault.came == "on 'fixture', which is no group of this cell"
    assert "or a name that stands under 'groups'" in fault.expected
    assert "groups: {fixture: {at: " in fault.cure

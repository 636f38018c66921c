"""Groups, and places that are only known so well."""

import dataclasses

import numpy as np
import pytest

from pathsim import Level, check, load_cell, save_cell
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
    assert 0 < spare < 0.029
    for known, clear in ((spare - 2e-4, True), (spare + 2e-4, False)):
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
        ("  jig: {", "  lid: {at: 0 0 0 mm}\n  jig: {", "no body stands on it", "on: lid"),
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

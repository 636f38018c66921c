"""Where seams lie on the parts, in closed form, and what is said where they do not."""

import dataclasses

import numpy as np
import pytest

from pathsim.check import check
from pathsim.files import load_cell
from pathsim.findings import FindingKind, Level
from pathsim.findings.seam_on_part import seams_on_parts
from pathsim.findings.seam_place import DEEP, NOWHERE, Untold
from pathsim.model import Role
from pathsim.motion import plan_program
from pathsim.transforms import translation
from tests.builders import body, box, joint, linear, seam
from tests.clearance.joints import ACROSS, LENGTH, UP, fillet, seam_cell, solid

FLAT = (0.2, 0.3, 0.05)


def place_of(c):
    (place,) = seams_on_parts(c, plan_program(c))
    return place


def flat_at(height, **of_seam):
    """A plate whose face lies ``height`` m above the wire's end."""
    return seam_cell([solid(FLAT, (0.0, 0.0, height - 0.025))], **of_seam)


def seam_findings(c):
    return [f for f in check(c).findings if f.kind is FindingKind.SEAM_OFF]


@pytest.mark.parametrize("height", [-0.3, -0.02, -0.0031, -0.0029, 0.0, 0.002, 0.004, 0.0085, 0.02])
def test_distance_of_a_plate_in_closed_form(height):
    place = place_of(flat_at(height))
    for spot in (place.least, place.most, place.start, place.end):
        assert spot.distance == pytest.approx(-height, abs=3e-5)
    assert place.lower <= -height + 3e-5 and place.upper >= -height - 3e-5
    assert (place.start.share, place.end.share) == (0.0, 1.0)
    assert place.is_off == (abs(height) > 0.003)
    assert place.is_nowhere == (-height > 0.003 + NOWHERE)
    assert place.is_deep == (height > 0.003 + DEEP)
    reach = None if height < -0.05 else 0.018 - height
    # A contact tip that is in the steel itself sees what is behind it.
    for way in place.to_work if height < 0.018 else ():
        assert way is None if reach is None else way == pytest.approx(reach, abs=3e-5)


@pytest.mark.parametrize("over", [-2e-4, 2e-4])
def test_looks_close_in_on_a_limit(over):
    """A bump that rises to just under, or over, the allowance between two looks."""
    bump = solid((0.05, 0.0007, 0.004), (0.0, 0.0231, 0.003 + over - 0.002), name="bump")
    ground = solid(FLAT, (0.0, 0.0, -0.025))
    place = place_of(seam_cell([ground, bump]))
    assert not place.is_off  # thin: nothing of it is 3 mm deep
    valley = place_of(flat_at(-0.003 - over))
    assert valley.is_off == (over > 0)


def test_a_seam_that_runs_off_the_part_is_told_with_the_place():
    """The plate ends 20 mm before the seam does."""
    c = seam_cell([solid((0.2, 0.1, 0.05), (0.0, LENGTH / 2 - 0.02 - 0.05, -0.025))])
    place = place_of(c)
    assert place.most.distance == pytest.approx(0.02, abs=3e-5)
    assert place.most.share == 1.0 and place.is_nowhere
    (found,) = seam_findings(c)
    assert found.level is Level.STOP and found.move == 3 and found.body == "part"
    assert "20.0 mm" in found.text and "at 100 %" in found.text
    assert found.time == pytest.approx(place.most.time)


def test_a_notch_between_looks_is_not_missed():
    """Two plates with a gap: in its middle the wire's end is as far from them as half of it."""
    for gap, is_off in ((0.0055, False), (0.0065, True)):
        plates = [
            solid((0.2, 0.1, 0.05), (0.0, 0.0113 + s * (gap / 2 + 0.05), -0.025), name=str(s))
            for s in (-1, 1)
        ]
        place = place_of(seam_cell(plates))
        assert place.is_off == is_off
        assert place.upper >= gap / 2 - 3e-5
        assert place.most.distance <= gap / 2 + 3e-5


def test_between_looks_the_bounds_hold():
    rng = np.random.default_rng(3)
    for _ in range(12):
        size = rng.uniform(0.002, 0.03, 2)
        posts = [
            solid((size[0], size[1], 0.05), (rng.uniform(-0.02, 0.02), y, rng.uniform(-0.04, 0.03)),
                  name=f"post {k}")
            for k, y in enumerate(rng.uniform(-0.05, 0.05, 4))
        ]  # fmt: skip
        place = place_of(seam_cell(posts))
        assert place.lower <= place.least.distance <= place.most.distance <= place.upper


def test_a_seam_on_a_plain_face_is_told_unless_it_is_meant():
    beside = [dataclasses.replace(p, T_world_body=translation(0.008 * ACROSS))
              for p in [solid((0.1, 0.3, 0.02), (0.0, 0.0, -0.01)),
                        solid((0.01, 0.3, 0.06), (0.0, 0.0, 0.03), name="web")]]  # fmt: skip
    place = place_of(seam_cell(beside))
    assert not place.is_off and place.is_beside
    assert place.beside.distance == pytest.approx(0.003, abs=3e-5) or place.beside.distance > 0.003
    c = flat_at(0.0)
    (found,) = seam_findings(c)
    assert found.level is Level.WATCH and "plain face" in found.text and "surfacing" in found.text
    assert seam_findings(flat_at(0.0, surfacing=True)) == []
    assert seam_findings(seam_cell(fillet(45))) == []


def test_where_nothing_is_a_part_it_is_said():
    c = seam_cell([solid(FLAT, (0.0, 0.0, -0.025), role=Role.FIXTURE)])
    place = place_of(c)
    assert place.untold is Untold.NO_PART and place.least is None and not place.is_off
    (found,) = seam_findings(c)
    assert found.level is Level.WATCH and "role 'part'" in found.text


def test_all_seams_off_are_one_finding():
    half = LENGTH / 2
    points = {"again": [0, half + 0.03, 0], "last": [0, half + 0.06, 0],
              "retract": np.array([0, half + 0.06, 0]) + 0.1 * UP}  # fmt: skip
    moves = [joint("above"), linear("start"), seam("end"), linear("again"), seam("last"),
             linear("retract"), joint("home")]  # fmt: skip
    low = seam_cell([solid(FLAT, (0.0, 0.0, -0.4))], points=points, moves=moves)
    (found,) = seam_findings(low)
    assert found.level is Level.STOP and found.move is None
    assert "none of the 2 seams" in found.text.lower()
    assert "move 3" in found.text and "move 5" in found.text
    # One of the two on a joint: one finding, about the other.
    short = [dataclasses.replace(p, T_world_body=translation([0, half + 0.002 - 0.1, 0]))
             for p in fillet(45)]  # fmt: skip
    (found,) = seam_findings(seam_cell(short, points=points, moves=moves))
    assert found.move == 5 and found.level is Level.STOP


def test_parts_on_the_turning_table_are_seen_from_it():
    c = load_cell("sample_cells/turned_collar")
    place = place_of(c)
    for spot in (place.least, place.most, place.start, place.end):
        assert abs(spot.distance) < 3e-5
    assert place.beside.distance < 3e-5
    assert place.to_work.least == pytest.approx(0.018, abs=3e-5)
    # A small block under the weld start: it goes with the table, or it stands and stays there.
    tip = c.tips(c.points["weld start"].q[None])[0]
    block = box((0.02, 0.02, 0.02), tip - [0.0, 0.0, 0.01])
    for on_table, farthest in ((True, 0.09 - 0.01), (False, 0.0)):
        only = body(block, "block", Role.PART, on_table=on_table)
        place = place_of(dataclasses.replace(c, bodies=(only,)))
        assert place.most.distance == pytest.approx(farthest, abs=1e-3)


def test_the_weave_is_left_out():
    woven, plain = (place_of(seam_cell(fillet(45), amplitude=a)) for a in (0.004, 0.0))
    assert woven.least.distance == pytest.approx(plain.least.distance, abs=1e-9)
    assert woven.most.distance == pytest.approx(plain.most.distance, abs=1e-9)


@pytest.mark.parametrize(("top", "goes_through"), [(0.011, True), (0.0085, False)])
def test_a_seam_behind_a_sheet_is_told_by_the_sheet_that_the_wire_goes_through(top, goes_through):
    """The wire's end lies on a plate as it should; a sheet 3 mm thick is in between."""
    ground = solid(FLAT, (0.0, 0.0, -0.025))
    sheet = solid((0.2, 0.3, 0.003), (0.0, 0.0, top - 0.0015), name="upright")
    c = seam_cell([ground, sheet], surfacing=True)
    place = place_of(c)
    assert not place.is_off
    assert (place.through is not None) == goes_through
    found = seam_findings(c)
    assert bool(found) == goes_through
    if goes_through:
        assert place.through.part == "upright"
        assert place.through.distance == pytest.approx(top, abs=3e-5)
        assert found[0].level is Level.STOP and found[0].body == "upright"
        assert (
            "passes through the upright" in found[0].text and "11.0 mm before it" in found[0].text
        )
        assert "far side of the upright" in found[0].text


def test_a_wire_whose_end_is_deep_in_a_part_does_not_pass_through_it():
    place = place_of(flat_at(0.012))
    assert place.is_deep and place.through is None

"""Bead, fillet, groove, wire of the crater and heat input, worked by hand."""

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import quad

from pathsim.check import check
from pathsim.errors import CellError
from pathsim.findings.bead import CONVEXITY, bead_in_words, fillet_of
from pathsim.findings.groove import groove_area
from pathsim.findings.kinds import FindingKind
from pathsim.findings.spread import Spread
from pathsim.findings.torch_angles import SeamAngles
from pathsim.findings.weld_section import Joint, section_at
from pathsim.model import Role
from pathsim.model.process import Process
from tests.builders import body, box, seam
from tests.findings.test_torch_angles import (
    BEVEL,
    PLATE,
    SQUARE,
    V60,
    X,
    Z,
    leaning,
    plates,
    torch,
)
from tests.motion.seam_cells import HOME, seam_cell

RIGHT = math.pi / 2


def test_a_square_fillet_by_hand():
    """12.5 mm2: legs 5 mm, throat 5 / sqrt 2; legs 1 to 1.5 of the same area 4.08 and 6.12 mm."""
    found = fillet_of(12.5e-6, RIGHT)
    assert found.leg == pytest.approx(5e-3)
    assert found.throat == pytest.approx(3.5355e-3, abs=1e-7)
    assert found.short_leg * found.long_leg / 2 == pytest.approx(12.5e-6)
    assert found.long_leg / found.short_leg == pytest.approx(1.5)
    assert found.short_leg == pytest.approx(4.0825e-3, abs=1e-7)


@pytest.mark.parametrize("degrees", [60.0, 90.0, 120.0])
def test_area_of_flat_and_convex_fillets_by_integration(degrees):
    """The face's chord lies between the ends of the legs; a parabola on it adds to the triangle."""
    t, area = math.radians(degrees), 15e-6
    found = fillet_of(area, t)
    corner = np.array([[0, 0], [1, 0], [math.cos(t), math.sin(t)]])
    for leg, rise in ((found.leg, 0.0), (found.convex_leg, CONVEXITY)):
        (ax, ay), (bx, by) = corner[1:] * leg
        triangle = abs(ax * by - ay * bx) / 2
        chord = math.hypot(bx - ax, by - ay)
        cap, _ = quad(lambda x, c=chord, r=rise: 4 * r * c * (x / c) * (1 - x / c), 0, chord)
        assert triangle + cap == pytest.approx(area)
        if rise == 0:  # the throat is the foot from the root to the face
            foot = np.linalg.norm((corner[1] + corner[2]) * leg / 2)
            assert found.throat == pytest.approx(foot)


def test_leg_is_the_most_that_equal_legs_can_be():
    found = fillet_of(20e-6, RIGHT)
    assert found.convex_leg < found.leg and found.short_leg < found.leg
    assert fillet_of(20e-6, math.radians(170)) is None
    assert fillet_of(20e-6, math.radians(20)) is None


# 8 mm over a root face of 2 mm at 30 deg to both sides: 8 x 8 tan 30; a bevel of 45 deg with a gap
# of 2 mm through 10 mm: 2 x 10 + 10 x 10 / 2; a square gap of 2 mm through 6 mm: 12 mm2.
@pytest.mark.parametrize(
    ("parts", "area"),
    [(V60, 64 * math.tan(math.radians(30))), (BEVEL, 70.0), (SQUARE, 12.0)],
)
@pytest.mark.parametrize("lean", [0.0, 8.0, -8.0])
def test_groove_area_by_hand(parts, area, lean):
    found = section_at(parts, torch(lean), X, Z)
    assert found.joint is Joint.LEVEL
    assert found.groove * 1e6 == pytest.approx(area, rel=1e-9)


def test_of_a_double_groove_one_side_and_of_a_closed_joint_none():
    """An X of 45 deg walls through 12 mm, as the plane cuts it: 36 mm2 a side."""
    walls = [((-6, 12), (0, 6)), ((0, 6), (-6, 0)), ((6, 12), (0, 6)), ((0, 6), (6, 0))]
    half = math.sqrt(0.5)
    normals = [(half, half), (half, -half), (-half, half), (-half, -half)]
    found = groove_area(np.array(walls) / 1e3, np.array(normals), np.array([0.0, 1.0]), 12e-3)
    assert found * 1e6 == pytest.approx(36.0)
    closed = plates(
        [(0, -6), (0, 0), (-100, 0), (-100, -6)], [(0, -6), (100, 0), (100, -6), (0, 0)]
    )
    assert section_at(closed, torch(0), X, Z).groove is None
    assert section_at([PLATE, leaning(90)], torch(45), X, Z).groove is None


def flat(angle):
    return Spread(angle, angle, angle)


def test_bead_in_words_of_every_joint():
    half = math.radians(30)
    skewed = SeamAngles(
        flat(0.0), None, Joint.CORNER, flat(0.0), (flat(half), flat(half)), "a", True, 1.0
    )
    said, numbers = bead_in_words(12.5e-6, skewed)
    assert "between faces 60 deg apart of equal legs 5.4 mm at most" in said
    assert numbers["leg"] == pytest.approx(math.sqrt(25e-6 / math.sin(math.radians(60))))
    groove = SeamAngles(flat(0.0), None, Joint.LEVEL, flat(0.0), (), "a", False, 1.0, 37e-6)
    said, numbers = bead_in_words(12.5e-6, groove)
    assert said == ", which fills 34 % of the groove's 37.0 mm2" and "leg" not in numbers
    on_plate = dataclasses.replace(groove, groove=None)
    assert bead_in_words(12.5e-6, on_plate) == ("", {})
    said, _ = bead_in_words(12.5e-6, None)
    assert said.startswith(
        ": a flat fillet of equal legs 5.0 mm at most, throat 3.5 mm (4.4 mm under"
    )


def told(process, crater=0.0, parts=(), kind=FindingKind.PROCESS):
    c = seam_cell({"end": (0.06, 0, 0)}, [seam("end", 0.006, crater=crater)])
    c = dataclasses.replace(c, process=process, bodies=tuple(parts))
    return next(f for f in check(c).seams if f.kind == kind)


def test_the_craters_wire_at_its_own_feed():
    """10 s of weld at 0.12 m/s and 0.5 s of crater at 0.05 m/s: 1.2 + 0.025 m."""
    found = told(Process(wire_feed=0.12, crater_feed=0.05), 0.5)
    assert found.numbers["wire"] == pytest.approx(1.225)
    assert "1.23 m of wire, the crater at its own feed" in found.text or "1.22 m" in found.text
    found = told(Process(wire_feed=0.12), 0.5)
    assert found.numbers["wire"] == pytest.approx(0.12 * 10.5)
    assert "crater at its own" not in found.text


def test_heat_of_a_pulsed_arc_by_its_measured_power():
    """24 V x 180 A are 4.32 kW; the meter says 5.1 kW: 0.85 kJ/mm at 6 mm/s, 0.68 with k 0.8."""
    found = told(Process(voltage=24, current=180, power=5100.0))
    assert found.numbers["heat"] == pytest.approx(0.85e6)
    assert found.numbers["heat input"] == pytest.approx(0.68e6)
    assert "arc energy 0.85 kJ/mm (measured power / v" in found.text
    found = told(Process(voltage=24, current=180))
    assert found.numbers["heat"] == pytest.approx(0.72e6)
    assert "arc energy 0.72 kJ/mm (U I / v" in found.text
    assert "heat input 0.58 kJ/mm (k times that, as EN 1011-1, k 0.8)" in found.text
    assert told(Process(power=6000.0)).numbers["heat"] == pytest.approx(1e6)


def test_what_no_process_has():
    for wrong in ({"power": -1.0}, {"power": 1e6}, {"wire_feed": 0.1, "crater_feed": 0.0}):
        with pytest.raises(CellError, match="process"):
            Process(**wrong)


def test_a_seam_on_a_plate_has_no_leg():
    c = seam_cell({"end": (0.06, 0, 0)}, [seam("end", 0.006)])
    tip = c.tips(HOME[None])[0]
    floor = body(box((0.5, 0.5, 0.01), (tip[0], tip[1], tip[2] - 0.005)), "floor", Role.PART)
    found = told(Process(wire_feed=0.12), parts=[floor])
    assert "leg" not in found.numbers and "fillet" not in found.text
    assert found.numbers["area"] == pytest.approx(math.pi / 4 * c.torch.wire_diameter**2 * 20)

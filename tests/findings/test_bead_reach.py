"""A bead that grows into a clamp: said, also where torch and wire pass the clamp clear."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from pathsim.check import check
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.files import load_cell
from pathsim.findings import FindingKind, Level
from pathsim.model import Pass, Role
from pathsim.model.bead_section import BeadSection
from pathsim.model.beads import front_of
from pathsim.transforms import pose, rotation_about, translation
from tests.advice.test_welds_untouched import AT
from tests.builders import body, box, turning_table
from tests.model.test_multipass import ROOT, in_passes
from tests.test_public_api import SAMPLES


def strip(off, high=0.002, role=Role.CLAMP, length=0.05, low=0.0):
    """A flat strip along the seam, its near side ``off`` m left of it, its foot at ``low``."""
    wide = 0.02
    at = AT + [-off - wide / 2, 0.03, low + high / 2]
    return body(box((wide, length, high)), "toe", role, at)


def reached(c, engine=None):
    found = check(c) if engine is None else check(c, engine=engine(c))
    return [f for f in found.findings if f.kind is FindingKind.BEAD_REACH]


def test_a_low_clamp_within_the_bead_is_told_and_the_same_beyond_it_is_not():
    """By hand: the outline of the bead is as far aside 1 mm over the root as its circle says."""
    c = in_passes(ROOT)
    section = c.beads[0].body.section
    r, centre = 1.30 * np.sqrt(section.area), 0.55 * np.sqrt(section.area)
    assert section.radius == pytest.approx(r)
    wide = np.sqrt(r**2 - (centre - 0.002) ** 2)  # the strip's top edge is the first it meets
    (finding,) = reached(c.with_body(strip(wide - 1e-4)))
    assert finding.level is Level.WATCH and finding.body == "toe"
    assert finding.piece == "bead of 'root'"
    assert finding.numbers["away"] == pytest.approx(wide - 1e-4, abs=2e-5)
    assert f"which is {1e3 * finding.numbers['away']:.1f} mm from the wire's end" in finding.text
    assert finding.move == c.beads[0].laid_by + 1
    # nothing else of the program meets it: it was clear before this was looked at
    assert not [f for f in check(c.with_body(strip(wide - 1e-4))).findings
                if f.kind is FindingKind.CONTACT and f.body == "toe"]  # fmt: skip
    assert reached(c.with_body(strip(wide - 1e-4)), ReferenceEngine)[0].text == finding.text
    # the polygon round the circle is up to r / cos(7.5 deg) wide: less than 0.9 % more
    assert not reached(c.with_body(strip(wide + 0.009 * r + 1e-5)))
    off = replace(strip(wide + 0.009 * r + 1e-5), known_to=0.0005)
    assert reached(c.with_body(off))  # nobody knows its place so well


def test_what_is_under_the_root_or_a_part_is_not_told():
    c = in_passes(ROOT)
    assert not reached(c.with_body(strip(-0.005, low=-0.004, high=0.0035)))  # a backing bar
    assert not reached(c.with_body(strip(0.001, role=Role.PART)))
    assert reached(c.with_body(strip(0.001, role=Role.FIXTURE)))


def test_a_clamp_that_lies_wholly_in_the_bead_is_told():
    """No surfaces meet: a screw head of 2 mm in the middle of the bead."""
    c = in_passes(Pass("thick", leg=0.02))
    head = body(box((0.002, 0.002, 0.002)), "toe", Role.CLAMP, AT + [0.0, 0.0, 0.008])
    assert [f.body for f in reached(c.with_body(head))] == ["toe"]


@pytest.mark.parametrize("weave", [0.0, 0.003])
def test_the_front_is_all_of_the_outline_over_the_wires_end(weave):
    section = BeadSection.of(30e-6, weave)
    cut = section.front.outline()
    x, y = np.asarray(section.outline()).T
    whole = trimesh.path.polygons.Polygon(np.column_stack([x, y]))
    half = whole.intersection(trimesh.path.polygons.Polygon([(-1, 0), (1, 0), (1, 1), (-1, 1)]))
    assert cut[:, 1].min() == pytest.approx(0.0, abs=1e-12)
    assert trimesh.path.polygons.Polygon(cut).area == pytest.approx(half.area, rel=1e-9)


def test_the_front_of_a_bead_is_closed_and_stands_on_its_line():
    c = in_passes(ROOT, Pass("cap", up=0.006))
    for bead in c.beads:
        front = front_of(c, bead.body)
        solid = trimesh.Trimesh(front.vertices, front.faces, process=False)
        assert solid.is_watertight and solid.volume > 0
        assert front.bounds[0][2] == pytest.approx(bead.body.lain[0].line[:, 2].min(), abs=1e-4)
        assert front.bounds[1][2] == pytest.approx(bead.body.mesh.bounds[1][2], abs=1e-6)


def test_on_a_turned_table_it_is_looked_at_where_both_stand_when_the_pass_ends():
    """The strip is told where it stands turned with the table, not where it was drawn."""
    table, turn = turning_table(AT), 0.3
    c = in_passes(ROOT)
    low = strip(0.001, length=0.02)
    low = replace(low, T_world_body=translation([0.0, 0.06, 0.0]) @ low.T_world_body)
    T = table.motion(np.array([[turn]]))[0]
    turned = {n: replace(p, q=np.append(p.q, turn)) for n, p in c.points.items() if not p.derived}
    for name, there, found in (
        ("floor", low, 1),
        (
            "turned",
            replace(low, on_table=True, T_world_body=np.linalg.inv(T) @ low.T_world_body),
            1,
        ),
        ("drawn", replace(low, on_table=True), 0),
    ):
        made = replace(c, table=table, points=turned, bodies=(), program=c.program)
        far = [b for b in c.bodies if b.role is Role.PART]
        made = replace(made, bodies=(*far, there))
        assert len(reached(made)) == found, name


def test_the_sample_cell_has_none():
    assert not reached(load_cell(SAMPLES / "three_passes"))


@pytest.mark.parametrize(
    ("opens", "said"), [(30, "higher"), (41, ""), (60, ""), (109, ""), (120, "wider")]
)
def test_a_groove_for_which_no_bead_is_drawn_is_told(opens, said):
    """Two plates that stand on one root, each leaning out by half of ``opens`` deg."""
    sides = []
    for sign in (1.0, -1.0):
        lean = rotation_about([0.0, 1.0, 0.0], sign * np.radians(opens / 2))
        # the inner face of a plate of 10 mm goes up from the root
        at = AT + lean @ np.array([sign * 0.005, 0.0, 0.015])
        plate = body(box((0.01, 0.4, 0.03)), f"side {sign:+.0f}", Role.PART)
        sides.append(replace(plate, T_world_body=pose(lean, at)))
    c = in_passes(ROOT)
    found = check(replace(c, bodies=tuple(sides))).findings
    mine = [f for f in found if f.kind is FindingKind.NOT_CHECKED and "between" in f.numbers]
    assert bool(said) == bool(mine)
    if said:
        (finding,) = mine
        assert f"{opens} deg to each other" in finding.text and said in finding.text
        assert "drawn for 40 deg to 110 deg" in finding.text and finding.level is Level.WATCH

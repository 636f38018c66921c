"""Passes that share a length of their way: there, and only there, they are drawn for both."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from pathsim.geometry.containment import solid_of
from pathsim.model.bead_lines import Lain, are_one_line, runs_in
from pathsim.model.bead_section import BeadSection
from pathsim.model.run import Run, Shift
from tests.advice.test_welds_untouched import AT, small_cell
from tests.builders import joint, linear
from tests.model.test_multipass import AWAY, FEED, ROOT, line


def two(step, turned=(0.0, 0.0, 0.0)):
    """A seam of 200 mm along y, and once more, shifted."""
    run = Run("seam", (linear("start"), line(ROOT)), 2, step=Shift(step, turned))
    return replace(small_cell([joint("above"), run.move, *AWAY]), process=FEED)


def straight(*places):
    return np.array(places, float)


def test_a_pass_that_goes_on_past_an_earlier_one_is_drawn_for_both_where_both_are():
    """The second 120 mm of 200 mm farther: 80 mm of both, 120 mm of each."""
    first, second = (one.body for one in two((0.0, 0.12, 0.0)).beads)
    area = first.area
    assert second.area == pytest.approx(area)
    assert second.section.area == pytest.approx(2 * area)
    both, alone = BeadSection.of(2 * area).top, BeadSection.of(area).top
    solid = solid_of(second.mesh)
    for y in np.linspace(-0.03, 0.31, 69):  # seam: AT +- 100 mm; the second from +20 to +220 mm
        on = AT + [0.0, y, 0.0]
        low, high = on + [0, 0, 0.98 * alone], on + [0, 0, 0.98 * both]
        if 0.02 <= y <= 0.22:
            assert solid.holds(low[None])
        if 0.02 <= y <= 0.10:
            assert solid.holds(high[None])
        if y > 0.10 + BeadSection.of(2 * area).half_width + 2e-3:
            assert not solid.holds(high[None])
    drawn = trimesh.Trimesh(second.mesh.vertices, second.mesh.faces, process=False)
    assert drawn.is_watertight and drawn.body_count == 2
    # by area integral, on every cut: a flat fillet of all that both left there is in the two
    for y in np.linspace(-0.099, 0.219, 40):
        left = area * ((-0.1 <= y <= 0.1) + (0.02 <= y <= 0.22))
        toe = np.sqrt(2 * left)  # legs of a fillet of that area, its corner at the wire's end
        corner = np.array([[toe, 0, toe], [-toe, 0, toe], [0, 0, toe / 2]]) / np.sqrt(2)
        inside = [any(solid_of(b.mesh).holds((AT + [0, y, 0] + c)[None]) for b in (first, second))
                  for c in corner]  # fmt: skip
        assert all(inside)


def test_a_seam_that_goes_on_where_one_ends_or_runs_beside_it_has_a_bead_of_its_own():
    for step in ((0.0, 0.2, 0.0), (0.006, 0.1, 0.0), (0.0, 0.1, 0.006)):
        first, second = (one.body for one in two(step).beads)
        assert second.section.area == pytest.approx(first.area)
        assert len(second.mesh.vertices) == len(first.mesh.vertices)


def test_a_third_pass_lies_in_what_both_left():
    """A repair of 60 mm across the end of the first and the middle of the second."""
    run = Run("seam", (linear("start"), line(ROOT)), 3, step=Shift((0.0, 0.06, 0.0)))
    c = replace(small_cell([joint("above"), run.move, *AWAY]), process=FEED)
    first, _, third = (one.body for one in c.beads)
    assert third.section.area == pytest.approx(3 * first.area)
    top = 0.98 * BeadSection.of(3 * first.area).top
    held = [y for y in np.linspace(-0.1, 0.25, 71)
            if solid_of(third.mesh).holds((AT + [0, y, top])[None])]  # fmt: skip
    # all three from 20 mm to 100 mm, and two of them up to 160 mm
    reach = BeadSection.of(3 * first.area).half_width
    assert held[0] <= 0.02 and 0.10 <= held[-1] <= 0.16 + reach + 2e-3


def test_runs_of_lines_by_hand():
    bead = Lain(36e-6, straight([0, 0, 0], [0.1, 0, 0]))  # within 3 mm
    assert bead.near == pytest.approx(0.003)
    across = straight([0.05, -0.05, 0], [0.05, 0.05, 0])
    (run,) = runs_in(across, [bead], 0.0)
    assert run.area == 36e-6
    assert (run.first, run.last) == pytest.approx((0.47, 0.53), abs=0.011)
    assert run.first <= 0.47 and run.last >= 0.53
    aslant = straight([0, 0, 0], [0.1, 0.01, 0])  # within 3 mm over 30 mm of 100
    (run,) = runs_in(aslant, [bead], 0.0)
    assert run.first == 0.0 and run.last == pytest.approx(0.3, abs=0.011)
    onward = straight([0.1, 0, 0], [0.2, 0, 0])
    assert runs_in(onward, [bead], 0.0) == ()
    assert runs_in(across, [bead], 36e-6) == () and runs_in(across, [], 0.0) == ()
    # there and away and there again: two runs
    zigzag = straight([0.01, 0, 0], [0.03, 0, 0], [0.05, 0.02, 0], [0.07, 0, 0], [0.09, 0, 0])
    assert len(runs_in(zigzag, [bead], 0.0)) == 2
    assert are_one_line(straight([0.1, 0.002, 0], [0, 0.002, 0]), bead)
    assert not are_one_line(straight([0.02, 0, 0], [0.08, 0, 0]), bead)
    (inner,) = runs_in(straight([0.02, 0, 0], [0.08, 0, 0]), [bead], 0.0)
    assert (inner.first, inner.last) == (0.0, 1.0)

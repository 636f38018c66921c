"""A moment on the sheet can be found at the cell, and the set-up is the model's own."""

from pathlib import Path

import pytest

import pathsim
from pathsim.report.sheet_content import sheet_content
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.sheet_records import Shown
from pathsim.report.sheet_setup import setup_lines
from pathsim.scene.moments import delicate_moments, way_into_move

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture(scope="module")
def result():
    return pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract"))


def test_the_way_into_a_straight_move_is_its_length_by_then(result):
    track = result.trajectory.tracks[1]
    ends = result.cell.tips(track.q[[0, -1]])
    length = float(((ends[1] - ends[0]) ** 2).sum() ** 0.5)
    assert way_into_move(result.cell, track, float(track.t[-1])) == pytest.approx(length, rel=1e-3)
    assert way_into_move(result.cell, track, float(track.t[0])) == 0.0


def test_moments_say_way_second_and_second_at_the_override_in_program_order(result):
    found = delicate_moments(result)
    content = sheet_content(result, "f", "d", tuple(Shown(one, "the left") for one in found))
    assert [one.time for one in found] == sorted(one.time for one in found)
    for moment, finding in zip(content.moments, found, strict=True):
        assert f" mm after weld end, on the way to home; {finding.time:.1f} s, " in moment.when
        assert moment.when.endswith(" s at 50 %")
        slow = float(moment.when.split(", ")[-1].split()[0])
        assert finding.time < slow < result.trajectory.slow_duration


def test_torch_and_wire_stand_on_the_sheet(result):
    (line,) = setup_lines(result.cell)
    assert "stick-out 18.0 mm" in line and "wire diameter" in line
    x = result.cell.torch.T_flange_tcp[0, 3] * 1e3
    assert f"x {x:.1f}" in line
    page = sheet_as_html(sheet_content(result, "f", "d", ()))
    # On the page a number and its unit are never parted at the end of a line.
    assert line.split(":")[1].strip() in page.replace("\N{NO-BREAK SPACE}", " ")
    for landmark in ("<main>", 'name="viewport"', 'scope="col"', 'class="empty more"'):
        assert landmark in page

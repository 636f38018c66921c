"""What the sheet says of the first run: two modes kept apart, the tip's speed, the first arc-on."""

from dataclasses import replace

import pytest

from pathsim.check import check
from pathsim.files import load_cell
from pathsim.findings.tip_speed import REDUCED_SPEED, TipSpeeds
from pathsim.model import Role
from pathsim.motion import plan_program
from pathsim.report.first_run import boxes, speed_line, tip_speed_in_words
from pathsim.report.sheet_content import sheet_content
from pathsim.report.sheet_html import sheet_as_html
from tests.report.made_sheets import SAMPLES, words_of

SOUND = "gate_hinge"


def sheet_of(cell):
    result = check(cell)
    return result, sheet_content(result, "files", "2031-01-01", ())


def test_the_tip_speed_of_every_move_and_the_override_that_keeps_it_reduced():
    result, content = sheet_of(load_cell(SAMPLES / SOUND))
    speeds = TipSpeeds.of(result.cell, result.trajectory)
    for row, move in zip(content.rows, speeds.moves, strict=True):
        assert -1e-6 <= int(row.tip) - 1e3 * move.most(0.5) < 1
    assert "Wire tip at up to 612 mm/s at 50 % override (move 5); 20 % keeps the 250" in (
        content.totals
    )
    assert speeds.most(0.20)[0] <= REDUCED_SPEED < speeds.most(0.21)[0]
    html = words_of(sheet_as_html(content))
    assert "tip mm/s" in html and content.totals in html


def test_two_ways_to_run_it_and_they_are_not_mixed():
    result, content = sheet_of(load_cell(SAMPLES / SOUND))
    (manual,) = [box for box in content.boxes if "manual reduced" in box]
    (automatic,) = [box for box in content.boxes if "automatic" in box]
    slow = plan_program(replace(result.cell, override=0.20)).slow_duration
    assert f"override 20 % ({slow:.0f} s in all) keeps the tip within 250 mm/s" in manual
    assert "enabling device" in manual and "a way out" in manual and "nobody" not in manual
    assert "nobody inside" in automatic and "override 50 %" in automatic
    assert "enabling" not in automatic
    assert "Arc off, gas off, wire feed off, wire cut to 18 mm" in content.boxes


def test_an_override_that_keeps_it_is_used_as_it_is():
    cell = replace(load_cell(SAMPLES / SOUND), override=0.1)
    result = check(cell)
    speeds = TipSpeeds.of(cell, result.trajectory)
    assert "within the 250 mm/s of manual reduced speed" in speed_line(cell, speeds)
    (manual,) = [b for b in boxes(cell, result.trajectory, speeds) if "manual reduced" in b]
    assert "override 10 %" in manual


def test_a_most_is_rounded_up():
    assert [tip_speed_in_words(v) for v in (0.25, 0.2501, 0.0)] == ["250", "251", "0"]


def test_the_first_run_with_the_arc_on_has_boxes_of_its_own():
    _, content = sheet_of(load_cell(SAMPLES / SOUND))
    said = " ".join(content.arc_on)
    for word in ("Screens", "extraction", "shade", "Gas on", "fire watch", "100 %", "18 mm"):
        assert word in said
    html = sheet_as_html(content)
    assert "Before the first run with the arc on" in html
    assert html.count('class="boxes"') == 2


def test_no_boxes_where_the_program_must_not_be_run():
    for cell in (
        load_cell(SAMPLES / "deep_channel"),
        replace(load_cell(SAMPLES / SOUND), to_do=("points",)),
    ):
        _, content = sheet_of(cell)
        html = sheet_as_html(content)
        assert content.boxes == () == content.arc_on
        assert "Signature" not in html and 'class="boxes"' not in html
        assert "Before and during" not in html


@pytest.mark.parametrize("is_part", [True, False])
def test_weld_aim_not_checked_unless_it_was(is_part):
    cell = load_cell(SAMPLES / SOUND)
    if not is_part:
        cell = replace(cell, bodies=tuple(
            replace(b, role=Role.FIXTURE if b.role is Role.PART else b.role) for b in cell.bodies
        ))  # fmt: skip
    result, content = sheet_of(cell)
    said = [line for line in content.unknown if "weld aim of move 3: not checked" in line]
    assert bool(said) != is_part
    note = next(f.text for f in result.seams if f.kind == "process")
    assert ("weld aim not checked" in note) != is_part

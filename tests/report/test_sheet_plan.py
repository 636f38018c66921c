"""Plan, points, labels and paper of a first-run sheet."""

import io
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from scipy.spatial import ConvexHull

import pathsim
from pathsim.cli.main import main
from pathsim.model.labels import Labels
from pathsim.report.paper import Paper
from pathsim.report.plan_records import Plan
from pathsim.report.plan_svg import plan_as_svg
from pathsim.report.sheet_content import sheet_content
from pathsim.report.sheet_html import sheet_as_html
from pathsim.report.sheet_pdf import sheet_as_pdf
from pathsim.report.sheet_plan import convex, plan_of
from pathsim.report.sheet_records import Shown
from pathsim.scene.moments import delicate_moments

SAMPLES = Path(__file__).parents[2] / "sample_cells"


def content_of(result):
    shown = tuple(Shown(one, "the left") for one in delicate_moments(result))
    return sheet_content(result, "f", "d", shown)


@pytest.fixture(scope="module")
def result():
    return pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge"))


def test_in_front_is_to_the_right_and_left_is_above_whichever_way_the_arm_stands(result):
    """By the base's own axes: turning arm and cell together changes nothing on the plan."""
    shown = tuple(Shown(one, "") for one in delicate_moments(result))
    plan = plan_of(result, shown)
    (x, y), _ = plan.arm
    assert dict(plan.sides)["front"][0] == 1 and dict(plan.sides)["left"][1] == plan.height
    for (_, place), one in zip(plan.marks, shown, strict=True):
        track = result.trajectory.tracks[one.finding.move - 1]
        tip = result.cell.tips(track.q_at(one.finding.time))[0]
        ahead, left, _ = result.cell.T_base_world[:3, :3] @ tip + result.cell.T_base_world[:3, 3]
        assert (place[0] - x) * plan.scale == pytest.approx(ahead, abs=1e-9)
        assert (place[1] - y) * plan.scale == pytest.approx(left, abs=1e-9)
    turn = np.eye(4)
    turn[:3, :3] = [[0, -1, 0], [1, 0, 0], [0, 0, 1]]
    cell = result.cell
    bodies = tuple(replace(b, T_world_body=turn @ b.T_world_body) for b in cell.bodies)
    turned = replace(cell, T_world_base=turn @ cell.T_world_base, bodies=bodies)
    again = pathsim.check(turned)
    other = plan_of(again, tuple(Shown(one, "") for one in delicate_moments(again)))
    assert other.scale == pytest.approx(plan.scale)
    assert np.allclose([p for _, p in other.marks], [p for _, p in plan.marks], atol=1e-6)


def test_what_a_turning_table_carries_is_drawn_where_it_stands_at_the_start():
    found = pathsim.check(pathsim.load_cell(SAMPLES / "turned_collar"))
    plan, cell = plan_of(found, ()), found.cell
    seam = next(track for track in found.trajectory.tracks if track.move.arc_on)
    assert np.allclose(found.trajectory.tracks[0].q[0, 6], seam.q[0, 6])  # not turned by then
    start = np.array(plan.seams[0][0])
    parts = [np.array(places) for places, grey in plan.areas if grey == 0.72]
    near = 0.01 / plan.scale
    assert any(
        (places.min(axis=0) - near < start).all() and (start < places.max(axis=0) + near).all()
        for places in parts
    )
    assert any(piece.body is not None for piece in cell.pieces)


def test_everything_of_a_plan_is_inside_it_and_seams_are_drawn(result):
    plan = plan_of(result, ())
    for places, grey in plan.areas:
        assert 0 < grey < 1
        x, y = np.array(places).T
        assert x.min() >= -1e-9 and x.max() <= 1 + 1e-9
        assert y.min() >= -1e-9 and y.max() <= plan.height + 1e-9
    assert len(plan.seams) == sum(t.move.arc_on for t in result.trajectory.tracks)
    svg = plan_as_svg(plan)
    assert svg.count("<polyline") == len(plan.seams) and 'role="img"' in svg
    assert "front of the arm is to the right" in svg


@given(st.lists(st.tuples(st.floats(-2, 2), st.floats(-2, 2)), min_size=3, max_size=40))
def test_the_outline_is_the_convex_hull(places):
    points = np.unique(np.round(places, 3), axis=0)
    if len(points) < 3 or np.linalg.matrix_rank(points - points[0], tol=1e-6) < 2:
        return
    found = convex(points)
    x, y = found.T
    area = 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
    assert area == pytest.approx(ConvexHull(points, qhull_options="QJ").volume, abs=1e-5)


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 0.6)), min_size=1, max_size=3))
def test_no_number_covers_another(places):
    marks = tuple((str(k + 1), place) for k, place in enumerate(places))
    plan = Plan(0.6, (), (), ((0.2, 0.3), 0.05), marks, 2.0)
    found = [place for _, place in plan.marks_apart(0.08)]
    for k, (x, y) in enumerate(found):
        assert 0.04 <= x <= 0.96 + 1e-9
        for a, b in found[:k]:
            assert abs(x - a) >= 0.08 - 1e-9 or abs(y - b) >= 0.08 - 1e-9


def test_points_are_counted_as_the_display_does(result):
    content = content_of(result)
    assert [row.name for row in content.points][:3] == ["home", "approach", "weld start"]
    assert [row.is_weld for row in content.points if row.name.startswith("weld")] == [True, True]
    home = result.cell.points["home"]
    shown = result.cell.arm.readings.shown(home.q[: result.cell.arm.dof])
    said = [float(value) for value in content.points[0].values]
    assert said[:6] == pytest.approx(np.degrees(shown), abs=0.051)
    place = result.cell.T_base_world @ np.append(result.cell.tips(home.q[None])[0], 1)
    tip = 1e3 * place[:3]
    assert np.allclose(said[6:], tip, atol=200)  # the wire's end is near the tool centre point
    for text in (sheet_as_html(content), "".join(pages(sheet_as_pdf(content)))):
        for row in content.points:
            assert row.mark in text and all(value in text for value in row.values)


def pages(raw):
    return [page.extract_text() for page in PdfReader(io.BytesIO(raw)).pages]


def test_names_and_remarks_of_the_cell_stand_on_both(result):
    labels = Labels("HINGE_04", "gate hinge <left>", "A-1043", "C", ("Tack both ends first",))
    content = content_of(replace(result, cell=replace(result.cell, labels=labels)))
    html = sheet_as_html(content)
    assert "gate hinge &lt;left&gt;" in html
    text = " ".join(pages(sheet_as_pdf(content)))
    for said in ("HINGE_04", "gate hinge <left>", "A-1043", "Tack both ends first", "Running time"):
        assert said in text
    assert content_of(result).labels == ()


@pytest.mark.parametrize(("paper", "size"), [(Paper.A4, (595.28, 841.89)),
                                             (Paper.LETTER, (612.0, 792.0))])  # fmt: skip
def test_both_papers_hold_it_on_two_sides(result, paper, size):
    content = content_of(result)
    sides = PdfReader(io.BytesIO(sheet_as_pdf(content, paper))).pages
    assert 1 <= len(sides) <= 2
    for side in sides:
        box = side.mediabox
        assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.1)
    assert re.search(rf"@page {{ size: {paper.css};", sheet_as_html(content, paper))


def test_the_command_takes_the_paper_and_refuses_others(tmp_path, capsys):
    out = tmp_path / "sheet.html"
    cell = str(SAMPLES / "gate_hinge")
    assert main(["sheet", cell, "-o", str(out), "--no-stills", "--paper", "letter"]) == 0
    assert "@page { size: letter;" in out.read_text(encoding="utf-8")
    assert main(["sheet", cell, "-o", str(tmp_path / "b.html"), "--paper", "a5"]) == 2
    assert "letter" in capsys.readouterr().err


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 0.6)), max_size=3))
def test_no_number_of_a_moment_covers_a_word(places):
    marks = tuple((str(k + 1), place) for k, place in enumerate(places))
    plan, size = Plan(0.6, (), (), ((0.2, 0.3), 0.05), marks, 2.0), 0.06
    numbers = [place for _, place in plan.marks_apart(2.2 * size)]
    for word, (x, y) in plan.words_apart(size):
        assert 0 <= x <= 1 and 0 <= y <= plan.height
        if word in ("front", "behind"):  # their edges are clear but for three numbers in a row
            apart = [abs(x - a) > 2.6 * size or abs(y - b) > 1.5 * size for a, b in numbers]
            assert all(apart) or len(places) == 3

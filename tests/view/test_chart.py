"""The chart: contact where intervals say so, marks inside it, a legend that fits."""

import dataclasses
from itertools import pairwise

import pytest

import pathsim
from pathsim.scene import build_scene
from pathsim.scene.palette import ACCENT, TINT
from pathsim.view.time_axis import WHOLE, AxisMode, axis_of
from tests.scene.broken_off import broken_off
from tests.view.pixels import SIZE, close_to, player_of, region


@pytest.mark.usefixtures("off_screen")
def test_unfinished_moves_are_framed_hatched_and_said():
    from pathsim.view.panel import verdict
    from pathsim.view.picture import Picture

    scene = build_scene(pathsim.check(broken_off()))
    word, said = verdict(scene)
    assert word == "STOP" and said.startswith("not checked to its end")
    drawn = Picture(scene, SIZE, off_screen=True)
    drawn.show(player_of(scene))
    image = drawn.image()
    band = scene.bands[0]
    box = drawn.place.moves
    axis = drawn.axis(player_of(scene))
    frame = region(image, axis.x(band.start) + 8, box.top, 6)
    assert close_to(frame, ACCENT).sum() > 5
    # ink strokes over the far end of the move's stretch, none over that of a checked move
    ink = {}
    for number in (1, 2):
        where = scene.bands[number - 1]
        x = axis.x(0.45 * where.start + 0.55 * where.end)
        y = drawn.place.chart.bottom + 0.45 * drawn.place.chart.height
        ink[number] = close_to(region(image, x, y, 12), (35, 39, 44), far=60).sum()
    assert ink[1] > 20 and ink[2] == 0
    drawn.close()


@pytest.mark.parametrize("mode", list(AxisMode))
def test_contact_is_a_band_of_full_height_where_the_intervals_say_so(picture, mode):
    scene = picture.scene
    player = dataclasses.replace(player_of(scene), axis=mode, finding=None).at(0.0)
    picture.show(player)
    image, chart, axis = picture.image(), picture.place.chart, picture.axis(player)
    assert scene.contact_spans
    columns = set()
    for span in scene.contact_spans:
        left, right = axis.clipped(span.start, span.end, 6.0)
        for x in range(int(left) + 2, int(right) - 1):
            column = image[SIZE[1] - int(chart.top) : SIZE[1] - int(chart.bottom), x]
            assert close_to(column, ACCENT, far=20).mean() > 0.6, span
        columns |= set(range(int(left) - 14, int(right) + 15))
    # and nowhere else is a column full of it
    for x in range(int(chart.left), int(chart.right)):
        if x not in columns:
            column = image[SIZE[1] - int(chart.top) : SIZE[1] - int(chart.bottom), x]
            assert close_to(column, ACCENT, far=20).mean() < 0.55


def test_what_is_missing_to_the_margin_is_tinted(picture):
    scene = picture.scene
    player = dataclasses.replace(player_of(scene), finding=None).at(0.0)
    from pathsim.view.chart_columns import columns_of

    picture.show(player)
    image, axis = picture.image(), picture.axis(player)
    columns = columns_of(scene, axis)
    below = columns.x[columns.band == 1]
    assert len(below) > 3
    chart = picture.place.chart
    rows = slice(SIZE[1] - int(chart.top), SIZE[1] - int(chart.bottom))
    tinted = close_to(image[rows, below[0].astype(int) : below[-1].astype(int) + 1], TINT, far=15)
    assert tinted.sum() > 10
    sound = columns.x[columns.band >= 2].astype(int)
    assert close_to(image[rows, sound], TINT, far=10).sum() == 0


@pytest.mark.parametrize("size", [(1024, 640), (1280, 800), (1920, 1080), (2560, 1600)])
def test_marks_stand_inside_the_chart_and_numbers_apart(picture, size):
    from pathsim.view.chart_marks import badges, symbol_place
    from pathsim.view.layout import layout

    place, scene = layout(*size), picture.scene
    for mode in AxisMode:
        for zoom in (WHOLE, WHOLE.about(0.97, 20), WHOLE.about(0.999, 150)):
            axis = axis_of(scene.bands, mode, zoom, place.chart.left, place.chart.right)
            for mark in scene.marks:
                box = symbol_place(place, scene, axis, mark)
                assert box is None or place.chart.covers(box)
            apart = 1.8 * place.font
            found = badges(scene, axis, apart)
            shown = [i for badge in found for i in badge.findings]
            assert sorted(shown) == [
                i for i, m in enumerate(scene.marks) if axis.left <= axis.x(m.time) <= axis.right
            ]
            xs = [badge.x for badge in found]
            assert all(b - a >= apart - 1e-6 for a, b in pairwise(xs))
            assert all(place.lane.left <= x <= place.lane.right for x in xs)


@pytest.mark.usefixtures("off_screen")
@pytest.mark.parametrize("size", [(1024, 640), (1280, 800), (3840, 2160)])
def test_the_legend_fits(size):
    from pathsim.view.layout import layout
    from pathsim.view.legend import ENTRIES, legend_font, legend_width

    place = layout(*size)
    assert legend_width(legend_font(place)) <= place.width
    assert legend_font(place) >= 9
    words = [entry for entry, _ in ENTRIES]
    for sign in ("contact", "below margin", "near-hit", "wrist zone", "straight line", "margin",
                 "not fully checked"):  # fmt: skip
        assert sign in words


@pytest.mark.usefixtures("off_screen")
@pytest.mark.parametrize("size", [(480, 360), (700, 480), (1280, 800)])
def test_the_caution_is_whole_in_windows_of_any_size(size):
    from pathsim.view.chart import caution_lines
    from pathsim.view.layer import width_of
    from pathsim.view.layout import layout

    place = layout(*size)
    lines, type_size = caution_lines(place)
    assert 1 <= len(lines) <= 2 and type_size >= 8
    said = " ".join(lines)
    for part in ("not a safety function", "First run slow, arc off"):
        assert part in said
    assert all(place.chart.left + width_of(line, type_size) <= size[0] for line in lines)

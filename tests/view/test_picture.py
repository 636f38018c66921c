"""Pixels that mean something: the gap's accent, the arm where it is, nothing cropped."""

import dataclasses
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import pathsim
from pathsim.cli.main import main
from pathsim.scene import build_scene
from pathsim.scene.palette import ACCENT, PAPER, TINT
from pathsim.view import overlays
from pathsim.view.playback_state import Player, opened
from pathsim.view.time_axis import WHOLE, AxisMode, axis_of
from tests.scene.broken_off import broken_off

SAMPLES = Path(__file__).parents[2] / "sample_cells"
SIZE = (1280, 800)


@pytest.fixture(scope="module")
def picture(off_screen):  # noqa: ARG001 - it sets the process up
    from pathsim.view.picture import Picture

    scene = build_scene(pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract")))
    drawn = Picture(scene, SIZE, off_screen=True)
    yield drawn
    drawn.close()


def pixels(path):
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def player_of(scene):
    return opened(scene.duration, tuple(mark.time for mark in scene.marks))


def region(image, x, y, half):
    """Pixels about a place that is counted from below, as VTK does."""
    row, column = image.shape[0] - 1 - round(y), round(x)
    return image[max(row - half, 0) : row + half, max(column - half, 0) : column + half]


def close_to(pixels, colour, far=40):
    return np.linalg.norm(pixels.astype(float) - np.array(colour), axis=-1) < far


def test_accent_marks_the_gap_and_only_where_there_is_one(picture):
    scene = picture.scene
    player = player_of(scene)
    picture.show(player)
    image = picture.image()
    gap = scene.marks[0].gap
    x, y, _ = picture.to_pixels((gap.on_moving + gap.on_standing) / 2)
    assert picture.place.stage.holds(x, y)
    assert close_to(region(image, x, y, 14), ACCENT).sum() > 30
    # far from everything there is no gap, and no accent at that place
    free = dataclasses.replace(player, time=0.3, finding=None, camera="1")
    assert scene.gap_at(0.3) is None
    picture.show(free)
    image = picture.image()
    tip = scene.paths[0].points[np.searchsorted(scene.paths[0].t, 0.3)]
    x, y, _ = picture.to_pixels(tip)
    assert close_to(region(image, x, y, 14), ACCENT).sum() == 0


@pytest.mark.parametrize("time", [0.0, 5.0, 20.0])
def test_the_arm_is_where_its_links_are(picture, time):
    scene = picture.scene
    picture.show(Player(scene.duration, (), time=time, camera="2"))
    image = picture.image()
    poses = scene.poses_at(time)
    for mesh in scene.meshes:
        if mesh.grey != "arm" or mesh.link in (None, 0):
            continue
        centre = mesh.vertices.mean(axis=0)
        place = poses[mesh.link] @ [*centre, 1.0]
        x, y, _ = picture.to_pixels(place[:3])
        colour = np.median(region(image, x, y, 3).reshape(-1, 3), axis=0)
        assert np.linalg.norm(colour - np.array(PAPER)) > 60, mesh.name


def test_the_arm_moves(picture):
    player = Player(picture.scene.duration, (), camera="2")
    picture.show(player)
    before = picture.image()
    picture.show(player.at(14.0))
    after = picture.image()
    stage = slice(0, int(SIZE[1] - picture.place.stage.bottom))
    assert (np.abs(after[stage].astype(int) - before[stage]).max(axis=-1) > 40).sum() > 5000


def test_list_and_chart_are_drawn_inside_the_window(picture):
    for size in ((1280, 800), (1920, 1080), (900, 600)):
        picture.plotter.window_size = list(size)
        picture.resize(size)
        picture.show(player_of(picture.scene))
        image = picture.image()
        assert image.shape[:2] == size[::-1]
        place = picture.place
        # What has no room is counted below the list, and reached with n or the wheel.
        assert 1 + (size[1] >= 800) <= len(picture.rows) <= len(picture.scene.marks)
        assert len(picture.panel.moves) >= 3
        for row in picture.panel.moves:
            assert row.box.bottom >= place.panel.bottom
            assert not any(row.box.meets(other.box) for other in picture.rows)
        for row in picture.rows:
            assert place.panel.left <= row.box.left and row.box.right <= place.panel.right
            assert row.box.bottom >= place.panel.bottom
        # text does not run over the right edge: the last columns of the list are quiet
        quiet = image[: int(size[1] - place.panel.bottom), -5:].reshape(-1, 3)
        assert not close_to(quiet, (35, 39, 44)).any()
    picture.plotter.window_size = list(SIZE)
    picture.resize(SIZE)


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


@pytest.mark.usefixtures("off_screen")
def test_still_writes_pictures(tmp_path, capsys):
    sample = str(SAMPLES / "wrist_in_line")
    out = tmp_path / "p.png"
    assert main(["still", sample, "--at", "1.5", "-o", str(out), "--size", "900x600"]) == 0
    assert pixels(out).shape == (600, 900, 3)
    assert main(["still", sample, "--at", "all", "-o", str(out), "--size", "640x480"]) == 0
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {
        "p.png", "p-at-the-seam.png", "p-whole-cell.png", "p-from-above.png",
        "p-along-the-seam.png", "p-finding-1.png",
    }  # fmt: skip
    pictures = [pixels(tmp_path / name) for name in sorted(names)[:5]]
    for a in range(5):
        for b in range(a):  # each camera really looks from somewhere else
            assert (np.abs(pictures[a].astype(int) - pictures[b]).max(axis=-1) > 30).mean() > 0.02
    capsys.readouterr()


@pytest.mark.usefixtures("off_screen")
@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--at", "soon", "-o", "x.png"], "came 'soon'"),
        (["--at", "999", "-o", "x.png"], "outside the program"),
        (["-o", "x.jpg"], "written as .png"),
        (["--clip", "-o", "x.png"], "written as .webp"),
        (["-o", "x.png", "--size", "big"], "came 'big'"),
        (["-o", "no_such_folder/x.png"], "cannot write"),
    ],
)
def test_what_cannot_be_drawn_is_said(options, says, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["still", str(SAMPLES / "wrist_in_line"), *options]) == 2
    assert says in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("off_screen")
def test_clip_moves(tmp_path, monkeypatch):
    monkeypatch.setattr("pathsim.view.stills.FRAMES_A_SECOND", 1)
    out = tmp_path / "c.webp"
    arguments = ["still", str(SAMPLES / "wrist_in_line"), "--clip", "-o", str(out)]
    assert main([*arguments, "--size", "640x480"]) == 0
    with Image.open(out) as clip:
        assert clip.n_frames == 12
        first = np.asarray(clip.convert("RGB")).astype(int)
        clip.seek(6)
        later = np.asarray(clip.convert("RGB"))
    assert (np.abs(later - first).max(axis=-1) > 40).mean() > 0.003


def test_marks_end_at_the_edge_of_the_stage(picture):
    """A gap outside the stage leaves no line over list and chart."""
    scene = picture.scene
    first = Player(scene.duration, tuple(m.time for m in scene.marks), finding=0, camera="finding")
    picture.show(first.at(scene.marks[0].time))
    free = dataclasses.replace(first.at(20.0), camera="free")
    picture.plotter.camera.zoom(6)
    picture.show(free)
    gap = scene.gap_at(20.0)
    x, y, _ = picture.to_pixels((gap.on_moving + gap.on_standing) / 2)
    assert not picture.place.stage.holds(x, y)  # the case that is meant
    image = picture.image()
    words = SIZE[1] - int(picture.place.stage.bottom)
    chart = picture.axis(free)  # what is left of the marks of findings
    low = SIZE[1] - int(picture.place.chart.top)
    below = image[low:, : int(chart.x(scene.bands[3].start)) - 20]
    assert close_to(below, ACCENT, far=15).sum() == 0
    # nor does its number stand at the edge, pointing nowhere
    edge = image[words - 60 : words - 2, int(picture.place.stage.right) - 120 :][:, :118]
    assert close_to(edge, ACCENT, far=15).sum() == 0


def test_an_old_picture_says_so_and_gives_no_verdict(picture):
    player = player_of(picture.scene)
    picture.show(player)
    before = picture.image()
    picture.fault = "cell.yaml:3 no such thing"
    picture.show(player)
    old = picture.image()
    picture.fault = ""
    corner = (slice(0, 60), slice(0, 400))
    assert close_to(old[corner], ACCENT).sum() > 300 + close_to(before[corner], ACCENT).sum()
    picture.show(player)
    again = picture.image()
    assert (np.abs(again[corner].astype(int) - before[corner]).max(axis=-1) > 30).mean() < 0.002


def test_the_chosen_finding_is_always_in_the_list(picture):
    scene = picture.scene
    marks = tuple(
        dataclasses.replace(scene.marks[1], number=k + 1, headline="nozzle to " + "x" * 60)
        for k in range(30)
    )
    picture.replace_scene(dataclasses.replace(scene, marks=marks), keep_camera=True)
    player = player_of(picture.scene)
    for chosen in (0, 7, 18, 29):
        picture.show(player.choose(chosen))
        assert chosen in [row.finding for row in picture.rows]
        assert picture.rows[-1].box.bottom > picture.place.panel.bottom
    picture.replace_scene(scene, keep_camera=True)


@pytest.mark.usefixtures("off_screen")
def test_words_fit_their_width():
    from pathsim.view.layer import cut, width_of, wrapped

    words = "short and_one_word_that_no_line_can_hold_because_it_is_long end"
    lines = wrapped(words, 14, 120)
    assert all(width_of(line, 14) <= 120 for line in lines)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")
    assert width_of(cut(words, 14, 120), 14) <= 120 and cut(words, 14, 120).endswith("...")
    assert cut("short", 14, 120) == "short"


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


@pytest.fixture(scope="module")
def clear(off_screen):  # noqa: ARG001 - it sets the process up
    from pathsim.view.picture import Picture

    scene = build_scene(pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge")))
    drawn = Picture(scene, SIZE, off_screen=True)
    yield drawn
    drawn.close()


def test_a_clear_cell_is_calm(clear):
    """No accent anywhere but in the strip that says what colours mean."""
    for time in (0.4, 2.0, 15.0, 27.0):
        clear.show(player_of(clear.scene).at(time))
        image = clear.image()
        place = clear.place
        image[SIZE[1] - int(place.legend.top) : SIZE[1] - int(place.legend.bottom)] = PAPER
        assert close_to(image, ACCENT, far=60).sum() == 0


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


@pytest.mark.parametrize("size", [(1024, 640), (1280, 800), (2560, 1600)])
@pytest.mark.parametrize("which", ["picture", "clear"])
def test_the_label_covers_no_gap_and_stays_on_the_stage(which, size, request):
    from pathsim.view.overlays import gap_box, label_box

    drawn = request.getfixturevalue(which)
    drawn.plotter.window_size = list(size)
    drawn.resize(size)
    player = player_of(drawn.scene)
    states = [player.choose(k) for k in range(len(drawn.scene.marks))]
    states += [dataclasses.replace(player.at(t), camera=c, finding=None)
               for t in (2.0, 10.0, 27.0) for c in ("1", "2", "3", "4")]  # fmt: skip
    seen = 0
    for state in states:
        drawn.show(state)
        drawn.plotter.renderer.ResetCameraClippingRange()
        gap = drawn.message(state).gap
        if gap is None:
            continue
        own = gap_box(drawn.place, gap, drawn.to_pixels)
        if not drawn.place.stage.holds(*own.middle):
            continue
        seen += 1
        label = label_box(drawn.place, gap, drawn.to_pixels)
        assert drawn.place.stage.covers(label)
        assert not label.meets(own)
    assert seen > 5
    drawn.plotter.window_size = list(SIZE)
    drawn.resize(SIZE)


@pytest.mark.usefixtures("off_screen")
@pytest.mark.parametrize("size", [(1024, 640), (2560, 1600)])
def test_no_label_covers_a_gap_at_any_place_of_the_stage(size):
    from pathsim.scene.records import Gap
    from pathsim.view.layout import layout
    from pathsim.view.overlays import gap_box, label_box

    place = layout(*size)
    stage = place.stage
    gap = Gap(np.zeros(3), np.ones(3), 0.0054, "nozzle", "left clamp", 0.010)
    for x in np.linspace(stage.left + 1, stage.right - 1, 9):
        for y in np.linspace(stage.bottom + 1, stage.top - 1, 9):
            at = {0.0: (x, y, 0.5), 1.0: (x + 12, y + 5, 0.5)}

            def to_pixels(point, at=at):
                return at[float(point[0])]

            label = label_box(place, gap, to_pixels)
            assert stage.covers(label)
            assert not label.meets(gap_box(place, gap, to_pixels))


def test_both_things_that_touch_are_coloured(picture):
    scene = picture.scene
    assert scene.marks[0].gap.touches
    player = player_of(scene).choose(0)
    picture.show(player)
    touched = picture.image()
    picture.show(dataclasses.replace(player, time=0.2, camera="free", finding=None))
    before = picture.image()
    stage = (slice(0, SIZE[1] - int(picture.place.stage.bottom)),
             slice(0, int(picture.place.stage.right)))  # fmt: skip

    def reddish(image):
        part = image[stage].astype(int)
        return ((part[..., 0] - part[..., 1]) > 45).sum()

    assert reddish(touched) > reddish(before) + 2000


def test_the_whole_cell_fills_the_stage(picture, clear):
    for drawn in (picture, clear):
        for size in ((1280, 800), (1024, 640), (900, 800)):
            drawn.plotter.window_size = list(size)
            drawn.resize(size)
            drawn.show(Player(drawn.scene.duration, (), camera="2"))
            held = drawn.scene.cameras[1].held
            at = np.array([drawn.to_pixels(point)[:2] for point in held])
            stage = drawn.place.stage
            assert at[:, 0].min() >= stage.left and at[:, 0].max() <= stage.right
            assert at[:, 1].min() >= stage.bottom and at[:, 1].max() <= stage.top
            spans = np.ptp(at, axis=0) / (stage.width, stage.height)
            assert spans.max() > 0.9
        drawn.plotter.window_size = list(SIZE)
        drawn.resize(SIZE)


def test_stills_have_no_hints_of_a_window(picture):
    assert not picture.hints
    picture.show(player_of(picture.scene))
    assert picture.buttons == ()


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


def test_the_eye_stays_above_the_floor(picture):
    picture.show(Player(picture.scene.duration, (), camera="2"))
    picture.plotter.camera.SetPosition(3.0, 1.0, -2.0)
    picture.keep_above_floor()
    assert picture.plotter.camera.GetPosition()[2] > picture.floor
    picture.plotter.camera.SetPosition(3.0, 1.0, 2.0)
    picture.keep_above_floor()
    assert picture.plotter.camera.GetPosition() == (3.0, 1.0, 2.0)


def test_bodies_are_hidden_faded_and_alone(picture):
    player = dataclasses.replace(player_of(picture.scene), finding=None, camera="1")
    for how, seen in (("hidden", 0), ("faded", 1), ("alone", 1)):
        picture.show(player.with_body("left clamp", how))
        parts = dict(picture.stage._bodies)
        assert all(actor.GetVisibility() == seen for actor, _ in parts["left clamp"])
        assert all(actor.GetVisibility() == (how != "alone") for actor, _ in parts["table"])
        faint = parts["left clamp"][0][0].GetProperty().GetOpacity()
        assert (faint < 0.5) == (how == "faded")
    picture.show(player)


def test_a_section_cuts_what_is_in_front(picture):
    player = dataclasses.replace(player_of(picture.scene), finding=None, camera="1")
    picture.show(player)
    whole = picture.image()
    for section in (1, 2, 3):
        picture.show(dataclasses.replace(player, section=section))
        cut = picture.image()
        assert (np.abs(cut.astype(int) - whole).max(axis=-1) > 40).mean() > 0.01
    picture.show(player)
    again = picture.image()
    assert (np.abs(again.astype(int) - whole).max(axis=-1) > 40).mean() < 0.001


def test_the_same_meshes_keep_their_actors(picture):
    from pathsim.scene import build_scene as build

    scene = picture.scene
    before = {id(actor) for parts in picture.stage._bodies.values() for actor, _ in parts}
    other = build(pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract")))
    picture.replace_scene(other, keep_camera=True)
    after = {id(actor) for parts in picture.stage._bodies.values() for actor, _ in parts}
    assert after == before
    player = player_of(other)
    picture.show(player)
    new = picture.image()
    picture.replace_scene(scene, keep_camera=True)
    picture.show(player)
    assert (np.abs(new.astype(int) - picture.image()).max(axis=-1) > 40).mean() < 0.001


def test_a_proposal_is_drawn_dashed_and_its_new_points_are_named(picture):
    from pathsim.advice import Evaluator, advise_on
    from pathsim.advice.cure_text import advice_in_words
    from pathsim.scene.ghost import ghost_of
    from pathsim.scene.palette import INK, PAPER
    from pathsim.session import Session
    from pathsim.view.messages import Cure

    result = picture.scene.result
    advice = advise_on(Evaluator(result.cell, Session(), result), 1)
    ghost = ghost_of(advice.proposals[0])
    shown = replace(player_of(picture.scene), ghost_shown=True)
    try:
        picture.cure = Cure(advice_in_words(advice), ghost)
        picture.show(shown)
        with_ghost = picture.image()
        to_pixels = picture.projection()
        stage = picture.place.stage
        # from the weld's end to the new point the way is a row of ink and paper
        way = next(way for way in ghost.ways if abs(way[-1] - ghost.points[0].place).max() < 1e-6)
        places = to_pixels(way[0] + np.linspace(0.1, 0.8, 60)[:, None] * (way[-1] - way[0]))
        assert all(stage.holds(x, y) for x, y in places)
        on_way = with_ghost[(SIZE[1] - 1 - places[:, 1]).astype(int), places[:, 0].astype(int)]
        assert close_to(on_way, INK).mean() > 0.3 and close_to(on_way, PAPER, 60).mean() > 0.15
        # the new point and what it cures are in the picture
        for place in (ghost.points[0].place, picture.scene.marks[0].place):
            assert stage.holds(*to_pixels(place[None])[0])
        picture.show(replace(shown, ghost_shown=False))
        without = picture.image()
        places = to_pixels(way[0] + np.linspace(0.1, 0.8, 60)[:, None] * (way[-1] - way[0]))
        on_way = without[(SIZE[1] - 1 - places[:, 1]).astype(int), places[:, 0].astype(int)]
        assert close_to(on_way, PAPER, 60).mean() < 0.1
    finally:
        picture.cure = None
        picture.show(replace(shown, ghost_shown=False))


@pytest.mark.parametrize("size", [(1024, 640), (1280, 800), (1920, 1080)])
def test_the_words_of_the_gap_cover_neither_end_of_the_move(off_screen, size):  # noqa: ARG001
    from pathsim.scene.message import message_at
    from pathsim.view.picture import Picture

    scene = build_scene(pathsim.check(pathsim.load_cell(SAMPLES / "hinge_stitched")))
    picture = Picture(scene, size, off_screen=True)
    try:
        player = player_of(scene).at(scene.tightest())
        picture.show(player)
        said = message_at(scene, player.time)
        boxes = []
        drawn = overlays.draw_gap
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(overlays, "draw_gap",
                          lambda *a, **k: (boxes.append(k["box"]), drawn(*a, **k))[1])  # fmt: skip
            picture.show(player)
        ends = {said.band.start_name, said.band.end_name}
        places = [picture.to_pixels(one.place)[:2] for one in scene.names if one.name in ends]
        (box,) = boxes
        assert len(places) == 2 and not any(box.holds(*place) for place in places)
    finally:
        picture.close()


def test_the_words_for_an_axis_stand_off_the_torch():
    from pathsim.view.arm_still import _RIGHT, _UP, label_place

    along = np.linspace(0, 0.4, 30)[:, None] * _RIGHT  # a torch that goes on along the axis
    words = label_place(0.25 * _RIGHT, along)
    flat = np.stack([_RIGHT, _UP])
    assert np.linalg.norm((along - words) @ flat.T, axis=1).min() > 0.1


def test_a_still_says_nothing_of_wheel_and_keys(off_screen):  # noqa: ARG001
    from pathsim.view.panel import draw_panel
    from pathsim.view.picture import Picture

    scene = build_scene(pathsim.check(pathsim.load_cell(SAMPLES / "search_beside_rib")))
    picture = Picture(scene, (1024, 640), off_screen=True)
    try:
        said = {}
        for hints in (True, False):
            texts = []
            layer = picture._fixed
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr(
                    layer, "text", lambda _x, _y, words, *_a, to=texts, **_k: to.append(words)
                )
                draw_panel(layer, picture.place, scene, player_of(scene), 1, hints=hints)
            layer.show()
            said[hints] = " ".join(texts)
        assert "wheel" in said[True] and "w: why" in said[True]
        assert "wheel" not in said[False] and "w: why" not in said[False]
        assert "of 8)" in said[False]
    finally:
        picture.close()

"""The stage: the gap's accent, the arm where it is, what touches, the eye."""

import dataclasses
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

import pathsim
from pathsim.scene.palette import ACCENT, PAPER
from pathsim.view.playback_state import Player
from tests.view.pixels import SAMPLES, SIZE, close_to, player_of, region


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


def test_marks_end_at_the_edge_of_the_stage(picture):
    """A gap outside the stage leaves no line over list and chart."""
    scene = picture.scene
    first = Player(scene.duration, tuple(m.time for m in scene.marks), finding=0, camera="finding")
    picture.show(first.at(scene.marks[0].time))
    free = dataclasses.replace(first.at(20.0), camera="free")
    picture.plotter.camera.Zoom(6)
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


def test_a_clear_cell_is_calm(clear):
    """No accent anywhere but in the strip that says what colours mean."""
    for time in (0.4, 2.0, 15.0, 27.0):
        clear.show(player_of(clear.scene).at(time))
        image = clear.image()
        place = clear.place
        image[SIZE[1] - int(place.legend.top) : SIZE[1] - int(place.legend.bottom)] = PAPER
        assert close_to(image, ACCENT, far=60).sum() == 0


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
            drawn.plotter.size = size
            drawn.resize(size)
            drawn.show(Player(drawn.scene.duration, (), camera="2"))
            held = drawn.scene.cameras[1].held
            at = np.array([drawn.to_pixels(point)[:2] for point in held])
            stage = drawn.place.stage
            assert at[:, 0].min() >= stage.left and at[:, 0].max() <= stage.right
            assert at[:, 1].min() >= stage.bottom and at[:, 1].max() <= stage.top
            spans = np.ptp(at, axis=0) / (stage.width, stage.height)
            assert spans.max() > 0.9
        drawn.plotter.size = SIZE
        drawn.resize(SIZE)


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
    from pathsim.scene.ghost_of_cure import ghost_of
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


def test_pictures_and_windows_start_without_the_plotting_library():
    code = (
        "import pathsim.view.window, pathsim.view.stills, pathsim.view.gap_picture, sys\n"
        "bad = {'pyvista', 'matplotlib', 'numba', 'scipy'} & set(sys.modules); assert not bad, bad"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=120)

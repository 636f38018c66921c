"""Labels: off the gap, on the stage, beside what they name."""

import dataclasses

import numpy as np
import pytest

import pathsim
from pathsim.scene import build_scene
from pathsim.view import overlays
from tests.view.pixels import SAMPLES, SIZE, player_of


@pytest.mark.parametrize("size", [(1024, 640), (1280, 800), (2560, 1600)])
@pytest.mark.parametrize("which", ["picture", "clear"])
def test_the_label_covers_no_gap_and_stays_on_the_stage(which, size, request):
    from pathsim.view.gap_label import gap_box, label_box

    drawn = request.getfixturevalue(which)
    drawn.plotter.size = size
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
    drawn.plotter.size = SIZE
    drawn.resize(SIZE)


@pytest.mark.usefixtures("off_screen")
@pytest.mark.parametrize("size", [(1024, 640), (2560, 1600)])
def test_no_label_covers_a_gap_at_any_place_of_the_stage(size):
    from pathsim.scene.gap import Gap
    from pathsim.view.gap_label import gap_box, label_box
    from pathsim.view.layout import layout

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
def test_a_route_keeps_where_it_goes_and_what_names_differ_in():
    from pathsim.scene.records import MoveBand
    from pathsim.view.layer import cut_middle, width_of
    from pathsim.view.move_list import route_in

    band = MoveBand(7, "linear", "weld end, stitch 1 end", "weld end, stitch 2 above", 0, 1, True)
    whole = width_of(band.route, 13)
    assert route_in(band, 13, whole + 1) == band.route
    target = route_in(band, 13, 0.7 * whole)
    assert target == "> weld end, stitch 2 above"
    for room in (90.0, 110.0, 130.0):
        short = route_in(band, 13, room)
        assert width_of(short, 13) <= room and short.startswith(">") and short.endswith("above")
    assert cut_middle("short", 13, 200) == "short"


@pytest.mark.usefixtures("off_screen")
def test_a_point_of_a_stitch_keeps_the_whole_of_what_tells_it_apart():
    from pathsim.scene.records import MoveBand
    from pathsim.view.layer import width_of
    from pathsim.view.move_list import route_in

    band = MoveBand(7, "linear", "weld end, stitch 1 end", "weld end, stitch 2 above", 0, 1, True)
    room = width_of("> stitch 2 above", 13)
    assert route_in(band, 13, room) == "> stitch 2 above"
    assert "..." in route_in(band, 13, room - 1)

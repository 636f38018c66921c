"""Lists of findings and moves: inside the window, the chosen one always on them."""

import dataclasses

from tests.view.pixels import SIZE, close_to, player_of


def test_list_and_chart_are_drawn_inside_the_window(picture):
    for size in ((1280, 800), (1920, 1080), (900, 600)):
        picture.plotter.size = size
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
    picture.plotter.size = SIZE
    picture.resize(SIZE)


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

"""A bead is in a picture from behind its own pass on, and in none before."""

import io
import itertools
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

import pathsim
from pathsim.outputs import Output, OutputFile
from pathsim.scene import build_scene
from pathsim.view.stills import gap_pictures, write_stills
from tests.view.pixels import SAMPLES, SIZE, pixels, player_of

SMALL = (960, 640)
#: So far before and behind the end of a pass, s: the arm stands still to the eye.
JUST = 2e-3
#: Pixels that differ by more have something else in them.
DIFFERENT = 12


@pytest.fixture(scope="module")
def scene(off_screen):  # noqa: ARG001 - it sets the process up
    """Three passes, the torch lifted wide of them."""
    return build_scene(pathsim.check(pathsim.load_cell(SAMPLES / "three_passes")))


def ends(scene):
    """When each pass ends, by its bead's name."""
    return {mesh.name: mesh.since for mesh in scene.meshes if mesh.since > 0}


def near_seam(scene):
    """A state whose camera looks at the seam from near by."""
    number = next(k for k, mark in enumerate(scene.marks) if mark.camera is not None)
    return player_of(scene).choose(number)


def changed(one, other, stage):
    """How many pixels of the stage differ."""
    rows = slice(0, int(one.shape[0] - stage.bottom))
    away = np.abs(one[rows].astype(int) - other[rows]).max(axis=-1)
    return int((away > DIFFERENT).sum())


def test_each_bead_has_a_moment_of_its_own(scene):
    found = ends(scene)
    assert list(found) == ["bead of 'root'", "bead of 'fill'", "bead of 'cap'"]
    assert sorted(found.values()) == list(found.values()) and min(found.values()) > 0


def test_the_window_s_picture_shows_each_bead_from_behind_its_pass_and_hides_it_before(scene):
    """By pixels: at the end of each pass, and there alone, something comes; back in time it goes.

    The window plays the same picture: forward, backward and from any moment to any other.
    """
    from pathsim.view.picture import Picture

    state, picture = near_seam(scene), Picture(scene, SMALL, off_screen=True)
    try:

        def drawn(time):
            picture.show(replace(state, time=time, finding=None, camera="free"))
            return picture.image()

        picture.show(state)  # turns the camera to the seam; it stays there
        stage = picture.place.stage
        for end in ends(scene).values():
            early, before, behind = (drawn(end + k * JUST) for k in (-2, -1, 1))
            assert changed(early, before, stage) < 20
            assert changed(before, behind, stage) > 150
            assert changed(drawn(end - JUST), before, stage) == 0  # and gone again
    finally:
        picture.close()


def test_stills_show_what_stands_at_their_moment(scene, tmp_path):
    """Of the whole cell, from camera 1: the bead is small there, and all that changes."""
    end = ends(scene)["bead of 'cap'"]
    drawn = []
    for k in (-2, -1, 1):
        out = OutputFile(tmp_path / f"{k}.png", Output.STILL, ())
        (path,) = write_stills(scene, f"{end + k * JUST:.5f}", out, SIZE, lambda *_: None)
        drawn.append(pixels(path)[:500])  # above the chart, whose mark goes on
    away = [(np.abs(one.astype(int) - other).max(axis=-1) > DIFFERENT).sum()
            for one, other in itertools.pairwise(drawn)]  # fmt: skip
    assert away[0] == 0 and away[1] > 10


def test_pictures_for_paper_show_what_stands_at_their_moment(scene):
    """From one place, just before and just behind the end of each pass."""
    mark = next(mark for mark in scene.marks if mark.camera is not None)
    times = [end + k * JUST for end in ends(scene).values() for k in (-2, -1, 1, 2)]
    marks = tuple(replace(mark, time=time) for time in times)
    images = [np.asarray(Image.open(io.BytesIO(png))).astype(int)
              for png in gap_pictures(replace(scene, marks=marks), SMALL)]  # fmt: skip
    away = [(abs(one - other) > DIFFERENT).sum() for one, other in itertools.pairwise(images)]
    for early, comes, late in (away[k : k + 3] for k in (0, 4, 8)):
        assert comes > 50 and early < comes / 4 and late < comes / 4

"""Stills and clips: written, different from each other, without hints of a window."""

import numpy as np
import pytest
from PIL import Image

import pathsim
from pathsim.cli.main import main
from pathsim.scene import build_scene
from tests.view.pixels import SAMPLES, pixels, player_of


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


def test_stills_have_no_hints_of_a_window(picture):
    assert not picture.hints
    picture.show(player_of(picture.scene))
    assert picture.buttons == ()


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

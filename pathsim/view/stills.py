"""Pictures and clips without a window, written whole or not at all."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from pathsim.errors import CannotCheck
from pathsim.outputs import Output, OutputFile
from pathsim.scene import Scene
from pathsim.view.playback_state import Player, opened
from pathsim.view.probe import require_off_screen

Progress = Callable[[str, float], None]
FRAMES_A_SECOND = 12
_LONGEST_CLIP = 20.0  # s; longer programs are shown faster
_CLIP_QUALITY = 70
#: The tag of the program that made a picture, in its EXIF data.
_SOFTWARE = 0x0131


def picture_size(text: str) -> tuple[int, int]:
    """Read a size as in ``"1280x800"``; CannotCheck when it is none that can be drawn."""
    parts = text.lower().split("x")
    if len(parts) == 2 and all(part.strip().isdigit() for part in parts):
        width, height = int(parts[0]), int(parts[1])
        if 480 <= width <= 7680 and 360 <= height <= 4320:
            return width, height
    raise CannotCheck(f"--size takes width x height from 480x360 to 7680x4320, came '{text}'")


def states_at(scene: Scene, at: str) -> list[tuple[str, Player]]:
    """Return names and states for ``at``: "worst", "all" or seconds.

    "all": the four cameras at the gravest moment (or the middle), and every finding.
    Raises CannotCheck when it is none of these or outside the program.
    """
    times = tuple(mark.time for mark in scene.marks)
    start = opened(scene.duration, times)
    if at == "worst":
        return [("worst", start if start.finding is not None else start.at(scene.tightest()))]
    if at == "all":
        quiet = replace(start, finding=None, time=start.time or scene.tightest())
        views = [
            (camera.name, replace(quiet, camera=str(k + 1)))
            for k, camera in enumerate(scene.cameras)
        ]
        placed = [k for k, mark in enumerate(scene.marks) if mark.camera is not None]
        found = [(f"finding {k + 1}", start.choose(k)) for k in placed]
        return views + found
    try:
        moment = float(at.removesuffix("s").strip())
    except ValueError:
        raise CannotCheck(f"--at takes seconds, 'worst' or 'all', came '{at}'") from None
    if not 0 <= moment <= scene.duration:
        raise CannotCheck(f"--at {moment:g} is outside the program of {scene.duration:.2f} s")
    return [(f"{moment:g} s", replace(Player(scene.duration, times), time=moment))]


def write_stills(
    scene: Scene, at: str, out: OutputFile, size: tuple[int, int], progress: Progress
) -> list[Path]:
    """Write PNG stills; with several, their names are added to that of ``out``.

    All are drawn before the first is written, and none is when one would replace another file.
    """
    states = states_at(scene, at)
    if len(states) > 1:
        names = (f"{out.path.stem}-{name.replace(' ', '-')}" for name, _ in states)
        places = [out.beside(out.path.with_name(name + out.path.suffix)) for name in names]
    else:
        places = [out]
    picture = _picture(scene, size)
    drawn = []
    try:
        for count, (name, player) in enumerate(states):
            progress(name, count / len(states))
            picture.show(player)
            drawn.append(_encoded(_image(picture.image()), format="PNG"))
    finally:
        picture.close()
    for place, raw in zip(places, drawn, strict=True):
        place.write(raw)
    progress("done", 1.0)
    return [place.path for place in places]


def gap_pictures(scene: Scene, size: tuple[int, int]) -> list[bytes]:
    """Return a PNG in grey for paper for each mark, at its moment, from its camera.

    Raises CannotShow where nothing can be drawn.
    """
    if not scene.marks:
        return []
    require_off_screen()
    from pathsim.view.gap_picture import GapPicture

    start = opened(scene.duration, tuple(mark.time for mark in scene.marks))
    picture = GapPicture(scene, size, off_screen=True)
    images = []
    try:
        for index in range(len(scene.marks)):
            picture.show(start.choose(index))
            buffer = io.BytesIO()
            _image(picture.image()).convert("L").save(buffer, format="PNG")
            images.append(buffer.getvalue())
    finally:
        picture.close()
    return images


def write_clip(
    scene: Scene, at: str, out: OutputFile, size: tuple[int, int], progress: Progress
) -> list[Path]:
    """Write the whole program as an animated WebP, at most 20 s long."""
    (_, state) = states_at(scene, "worst" if at == "all" else at)[0]
    camera = state.camera
    picture = _picture(scene, size)
    speed = max(1.0, scene.duration / _LONGEST_CLIP)
    count = max(int(scene.duration / speed * FRAMES_A_SECOND), 2)
    frames = []
    try:
        for k, moment in enumerate(np.linspace(0, scene.duration, count)):
            progress(f"frame {k + 1} of {count}", k / count)
            picture.show(replace(state, time=float(moment), camera=camera))
            frames.append(_image(picture.image()))
    finally:
        picture.close()
    progress("packing", 0.99)
    raw = _encoded(
        frames[0], format="WEBP", save_all=True, append_images=frames[1:],
        duration=round(1000 / FRAMES_A_SECOND), loop=0, quality=_CLIP_QUALITY, method=4,
    )  # fmt: skip
    out.write(raw)
    progress("done", 1.0)
    return [out.path]


def write_screenshot(pixels: np.ndarray, folder: Path) -> Path:
    """Write a window's picture beside a cell's folder under the next free name; return it."""
    raw = _encoded(_image(pixels), format="PNG", optimize=False)
    count = 1
    while (path := folder.parent / f"{folder.name}-picture-{count}.png").exists():
        count += 1
    OutputFile.free(path, Output.STILL, ()).write(raw)
    return path


def _picture(scene: Scene, size: tuple[int, int]) -> Any:
    require_off_screen()
    from pathsim.view.picture import Picture

    return Picture(scene, size, off_screen=True)


def _image(pixels: np.ndarray) -> Any:
    from PIL import Image

    return Image.fromarray(pixels)


def png_of(pixels: np.ndarray) -> bytes:
    """Return the file of a picture's pixels ``(height, width, 3)``."""
    return _encoded(_image(pixels), format="PNG")


def _encoded(image: Any, **options: Any) -> bytes:
    """Return a picture's or a clip's file, with the mark by which it is known again."""
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    if options["format"] == "PNG":
        info = PngInfo()
        info.add_text("Software", "pathsim still")
        options["pnginfo"] = info
    else:
        exif = Image.Exif()
        exif[_SOFTWARE] = "pathsim clip"
        options["exif"] = exif
    buffer = io.BytesIO()
    image.save(buffer, **options)
    return buffer.getvalue()

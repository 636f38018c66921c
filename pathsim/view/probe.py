"""Whether this machine can draw, found out without risking this process.

The first picture on a machine without a graphics library ends in a crash of the process,
not in an exception; so another process tries first.
"""

from __future__ import annotations

import atexit
import importlib.util
import os
import subprocess
import sys

from pathsim.errors import PathsimError
from pathsim.view.drawn_before import Choice, DrawnBefore

#: The drawing library's own parts: it alone decides, and what is built upon it starts slowly.
_TRY = """
import sys
import vtkmodules.vtkRenderingOpenGL2
from vtkmodules.vtkFiltersSources import vtkCubeSource
from vtkmodules.vtkRenderingCore import (
    vtkActor, vtkPolyDataMapper, vtkRenderer, vtkRenderWindow, vtkWindowToImageFilter,
)
window, scene, cube = vtkRenderWindow(), vtkRenderer(), vtkCubeSource()
actor, mapper, image = vtkActor(), vtkPolyDataMapper(), vtkWindowToImageFilter()
window.SetOffScreenRendering({off:d})
window.SetSize(64, 64)
window.AddRenderer(scene)
mapper.SetInputConnection(cube.GetOutputPort())
actor.SetMapper(mapper)
scene.AddActor(actor)
window.Render()
image.SetInput(window)
image.ReadFrontBufferOff()
image.Update()
low, high = image.GetOutput().GetScalarRange()
sys.exit(0 if high > low else 3)
"""
_SECONDS = 60
#: Ways to draw without a screen, in the order in which they are tried.
_OFF_SCREEN_WINDOWS = ("vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow")
_CHOICE = "VTK_DEFAULT_OPENGL_WINDOW"


class CannotShow(PathsimError):  # noqa: N818 - reads as the sentence the user sees
    """Nothing can be drawn here; the text says what to install."""


def require_library() -> None:
    """Raise CannotShow when the drawing library is not installed."""
    if importlib.util.find_spec("pyvista") is None:
        raise CannotShow(
            "the 3D view needs the optional drawing library. Install it with "
            "pip install 'pathsim[view]' (in this folder: pip install -e '.[view]'). "
            "'pathsim check' works without it."
        )


def require_window() -> None:
    """Raise CannotShow when no window can be opened here."""
    require_library()
    if sys.platform.startswith("linux") and not _has_screen():
        raise CannotShow(
            "there is no screen here (DISPLAY is not set). Use 'pathsim still' for pictures, or "
            "run this where there is a screen."
        )
    if not _succeeds(_attempt({}, off_screen=False)):
        raise CannotShow(_missing("a window"))


def begin_off_screen() -> None:
    """Start the first attempt at drawing without a screen; ``require_off_screen`` waits for it.

    So the attempt runs beside a check. Nothing happens where the drawing library is not installed,
    or where it is known that pictures are drawn here.
    """
    if _ready or _begun or importlib.util.find_spec("pyvista") is None:
        return
    if DrawnBefore().read() is None:
        choice = _choices()[0]
        _begun.append((choice, _attempt(choice, off_screen=True)))
        atexit.register(_end)


def require_off_screen() -> None:
    """Find a way to draw without a screen and set it for this process, or raise CannotShow."""
    require_library()
    if _ready:
        return
    before = DrawnBefore()
    known = None if _begun else before.take()
    if known is not None:
        os.environ.update(known)
        _ready.append((known, before))
        return
    for choice in _choices():
        process = next((process for begun, process in _begun if begun == choice), None)
        if _succeeds(process or _attempt(choice, off_screen=True)):
            os.environ.update(choice)
            _ready.append((choice, before))
            return
    raise CannotShow(_missing("a picture"))


def drawn() -> None:
    """Keep, once a process, that it drew a picture without a screen: the next need not try."""
    if _ready and not _kept:
        choice, before = _ready[0]
        _kept.append(choice)
        before.keep(choice)


#: The way to draw that was found with where it is kept, the same once it is kept, and the attempt
#: that was begun; one at most of each.
_ready: list[tuple[Choice, DrawnBefore]] = []
_kept: list[Choice] = []
_begun: list[tuple[Choice, subprocess.Popen[bytes]]] = []


def _choices() -> list[Choice]:
    """Ways to draw without a screen, as settings, in the order in which they are tried."""
    if not sys.platform.startswith("linux") or _CHOICE in os.environ:
        return [{}]
    windows = [{_CHOICE: window} for window in _OFF_SCREEN_WINDOWS]
    # Without a screen the usual window would only complain before it falls back.
    return [{}, *windows] if _has_screen() else [*windows, {}]


def _end() -> None:
    """End an attempt that nobody waited for."""
    for _, process in _begun:
        if process.poll() is None:
            process.kill()


def _has_screen() -> bool:
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _attempt(extra: Choice, *, off_screen: bool) -> subprocess.Popen[bytes]:
    """Start to draw in another process."""
    return subprocess.Popen(  # noqa: S603 - our own interpreter and our own text
        [sys.executable, "-c", _TRY.format(off=off_screen)],
        env={**os.environ, **extra},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def _succeeds(process: subprocess.Popen[bytes]) -> bool:
    """Wait for an attempt and tell whether it drew anything."""
    try:
        return process.wait(_SECONDS) == 0
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        return False


def _missing(what: str) -> str:
    if sys.platform.startswith("linux"):
        cure = (
            "install the graphics libraries: on Debian or Ubuntu, "
            "'apt-get install libgl1 libegl1 libgl1-mesa-dri libxrender1' (with a screen) or "
            "'apt-get install libosmesa6' (without one)"
        )
    else:
        cure = "install or update the graphics driver (OpenGL 3.2 or newer)"
    return f"{what} cannot be drawn here: {cure}. 'pathsim check' works without it."

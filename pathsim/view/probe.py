"""Whether this machine can draw, found out without risking this process.

The first picture on a machine without a graphics library ends in a crash of the process,
not in an exception; so another process tries first.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys

from pathsim.errors import PathsimError

_TRY = (
    "import pyvista, sys\n"
    "p = pyvista.Plotter(off_screen={off}, window_size=(64, 64))\n"
    "p.add_mesh(pyvista.Cube())\n"
    "p.show(auto_close=False, interactive=False) if {off} else p.show(interactive_update=True)\n"
    "image = p.screenshot(return_img=True)\n"
    "p.close()\n"
    "sys.exit(0 if image.std() > 0 else 3)\n"
)
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
    if not _draws({}, off_screen=False):
        raise CannotShow(_missing("a window"))


def require_off_screen() -> None:
    """Find a way to draw without a screen and set it for this process, or raise CannotShow."""
    require_library()
    choices: list[dict[str, str]] = [{}]
    if sys.platform.startswith("linux") and _CHOICE not in os.environ:
        windows = [{_CHOICE: window} for window in _OFF_SCREEN_WINDOWS]
        # Without a screen the usual window would only complain before it falls back.
        choices = choices + windows if _has_screen() else windows + choices
    for choice in choices:
        if _draws(choice, off_screen=True):
            os.environ.update(choice)
            return
    raise CannotShow(_missing("a picture"))


def _has_screen() -> bool:
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _draws(extra: dict[str, str], *, off_screen: bool) -> bool:
    """Try to draw in another process."""
    script = _TRY.format(off=off_screen)
    try:
        done = subprocess.run(  # noqa: S603 - our own interpreter and our own text
            [sys.executable, "-c", script],
            env={**os.environ, **extra},
            capture_output=True,
            timeout=_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0


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

"""Drawing without a screen, and a private screen for the window."""

import os
import shutil
import subprocess
import sys
import time

import pytest

import pathsim
from pathsim.scene import build_scene
from tests.view.pixels import SAMPLES, SIZE

pv = pytest.importorskip("pyvista", reason="the optional drawing library is not installed")


@pytest.fixture(scope="session")
def off_screen():
    """Set this process up for drawing without a screen; skip where no library can."""
    from pathsim.view.probe import CannotShow, require_off_screen

    try:
        require_off_screen()
    except CannotShow as error:
        pytest.skip(f"no way to draw here: {error}")


@pytest.fixture(scope="session")
def screen():
    """A private X screen; yields the environment for programs that should appear on it."""
    for program in ("Xvfb", "xdotool"):
        if not sys.platform.startswith("linux") or shutil.which(program) is None:
            pytest.skip(f"{program} is not installed")
    read, write = os.pipe()
    # Without -noreset the screen starts anew when its last window closes, and a program that comes
    # just then finds none.
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", "1400x900x24", "-nolisten", "tcp",
         "-noreset"],
        pass_fds=[write], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(write)
    with os.fdopen(read) as number:
        display = f":{number.readline().strip()}"
    environment = {**os.environ, "DISPLAY": display}
    environment.pop("VTK_DEFAULT_OPENGL_WINDOW", None)
    time.sleep(0.2)
    yield environment
    server.terminate()
    server.wait(timeout=10)


@pytest.fixture(scope="session")
def scenes():
    """Scenes of sample cells by name, each checked once."""
    return {
        name: build_scene(pathsim.check(pathsim.load_cell(SAMPLES / name)))
        for name in ("gate_hinge_no_retract", "gate_hinge")
    }


def drawn_picture(scene):
    from pathsim.view.picture import Picture

    drawn = Picture(scene, SIZE, off_screen=True)
    yield drawn
    drawn.close()


@pytest.fixture(scope="module")
def picture(off_screen, scenes):  # noqa: ARG001 - it sets the process up
    """A picture of a cell with a contact."""
    yield from drawn_picture(scenes["gate_hinge_no_retract"])


@pytest.fixture(scope="module")
def clear(off_screen, scenes):  # noqa: ARG001 - it sets the process up
    """A picture of a clear cell."""
    yield from drawn_picture(scenes["gate_hinge"])

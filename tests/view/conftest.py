"""Drawing without a screen, and a private screen for the window."""

import shutil
import sys

import pytest

import pathsim
from pathsim.scene import build_scene
from tests.private_screen import private_screen
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
    with private_screen() as environment:
        yield environment


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

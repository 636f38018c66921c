"""Full screen where a window manager frames windows: frame and bars go, and come back."""

import re
import shutil
import subprocess
import time

import pytest

from tests.private_screen import private_screen
from tests.view.driven_window import PATIENCE, driven_window


@pytest.fixture
def managed(screen, tmp_path):
    """A window on a screen with a window manager."""
    if shutil.which("openbox") is None:
        pytest.skip("openbox is not installed")
    manager = subprocess.Popen(
        ["openbox", "--sm-disable"], env=screen, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    time.sleep(0.5)
    try:
        with driven_window(tmp_path, screen) as driven:
            yield driven
    finally:
        manager.terminate()
        manager.wait(timeout=10)


def corner(driver):
    said = driver.xdotool("getwindowgeometry", driver.window)
    return tuple(int(v) for v in re.search(r"Position: (-?\d+),(-?\d+)", said).groups())


def test_the_key_takes_the_whole_screen_and_gives_it_back(managed):
    before = managed.state["size"]
    managed.xdotool("windowfocus", "--sync", managed.window)
    framed = corner(managed)
    assert framed[1] > 0  # the frame has its title above the window
    managed.xdotool("key", "F11")  # to whatever has the focus, as a person presses it
    managed.until(lambda s: s["full"] and s["size"] == [1400, 900])
    assert corner(managed) == (0, 0)
    managed.xdotool("key", "n")  # keys go on as before
    managed.until(lambda s: s["finding"] == 1)
    managed.xdotool("key", "F11")
    managed.until(lambda s: not s["full"] and s["size"] == before)
    managed.xdotool("key", "q")
    assert managed.process.wait(timeout=PATIENCE) == 0
    assert not [line for line in managed.log if "Error" in line or "Traceback" in line]


def test_a_manager_that_has_gone_is_not_asked(tmp_path):
    """Its word stays on the screen when it ends: a window that trusts it would wait for ever."""
    for program in ("Xvfb", "xdotool", "openbox"):
        if shutil.which(program) is None:
            pytest.skip(f"{program} is not installed")
    with private_screen() as screen:
        manager = subprocess.Popen(
            ["openbox", "--sm-disable"], env=screen, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        time.sleep(0.5)
        manager.terminate()
        manager.wait(timeout=10)
        with driven_window(tmp_path, screen) as driven:
            driven.key("F11")
            driven.until(lambda s: s["full"] and s["size"] == [1400, 900])
            driven.key("F11")
            driven.until(lambda s: not s["full"] and s["size"] == [1280, 800])
            driven.key("q")
            assert driven.process.wait(timeout=PATIENCE) == 0
            assert not [line for line in driven.log if "Error" in line or "Traceback" in line]

"""The real window on a private screen: keys and clicks go in as X events, state comes back."""

import re
import time
from pathlib import Path

import pytest
from PIL import Image

from tests.view.driven_window import PATIENCE, driven_window


@pytest.fixture
def driver(screen, tmp_path):
    with driven_window(tmp_path, screen) as driven:
        yield driven


def test_keys_clicks_and_saving(driver, tmp_path):
    # opens on the worst finding
    assert driver.state["finding"] == 0 and driver.state["camera"] == "finding"
    worst = driver.state["time"]
    driver.key("n")
    assert driver.until(lambda s: s["finding"] == 1)["time"] != worst
    driver.key("p")
    assert driver.until(lambda s: s["finding"] == 0)["time"] == worst
    driver.key("2")
    driver.until(lambda s: s["camera"] == "2")
    driver.key("Home")
    driver.until(lambda s: s["time"] == 0)
    driver.key("Right")
    driver.until(lambda s: s["time"] == pytest.approx(0.1))
    # playing follows the clock, not the number of frames
    driver.key("space")
    first = driver.until(lambda s: s["playing"])
    started = time.monotonic()
    later = driver.until(lambda s: s["time"] > 2.0)
    took = time.monotonic() - started
    assert later["frames"] > first["frames"] + 3
    assert took == pytest.approx(later["time"] - first["time"], abs=1.0)
    driver.key("space")
    driver.until(lambda s: not s["playing"])
    driver.key("question")
    driver.until(lambda s: s["help"])
    driver.key("Escape")
    driver.until(lambda s: not s["help"])
    # the chart is the scrubber: its middle is the middle of the program
    driver.key("e")
    driver.until(lambda s: s["axis"] == "time")
    driver.click(658, 700)
    assert driver.until(lambda s: s["time"] > 10)["time"] == pytest.approx(14.08, abs=0.4)
    # zooming by the wheel is turning by hand: marks are drawn anew
    before = driver.state["frames"]
    driver.xdotool("mousemove", "--window", driver.window, "500", "300", "click", "4")
    driver.until(lambda s: s["camera"] == "free" and s["frames"] > before)
    # a click in the list goes to that finding
    driver.click(1100, 130)
    driver.until(lambda s: s["finding"] == 0 and s["camera"] == "finding")
    # a broken file shows its fault and keeps the picture; mended, it is checked again
    path = tmp_path / "gate_hinge_no_retract" / "cell.yaml"
    sound = path.read_text(encoding="utf-8")
    path.write_text(sound.replace("role: clamp", "role: clmp", 1), encoding="utf-8")
    fault = driver.until(lambda s: s["fault"])["fault"]
    assert "cell.yaml:12" in fault and "Did you mean 'clamp'?" in fault
    path.write_text(sound.replace("at: 840 115 720", "at: 840 415 720"), encoding="utf-8")
    state = driver.until(lambda s: not s["fault"] and not s["checking"])
    assert state["time"] == worst  # time stays where it was
    assert state["news"].startswith("Checked again: ")
    assert "gone" in state["news"]
    # Nothing of the check runs in the window's process: what its turns cost is drawing alone
    # (0.07 s without a graphics card), from the saving until the new picture is there.
    driver.until(lambda s: s["settled"])
    assert 0 < driver.state["standstill"] < 0.15
    driver.key("q")
    assert driver.process.wait(timeout=PATIENCE) == 0
    assert not [line for line in driver.log if "Error" in line or "Traceback" in line]


def presser(driver):
    """Return what presses a key and waits until the state is as wanted."""

    def pressed(key, wanted):
        driver.key(key)
        return driver.until(wanted)

    return pressed


def test_keys_of_time_are_pressed(driver):
    pressed = presser(driver)
    for speed in (2.0, 5.0, 10.0, 1.0):
        pressed("f", lambda s, speed=speed: s["speed"] == speed)
    pressed("s", lambda s: s["speed"] == 0.25)
    pressed("s", lambda s: s["speed"] == 1.0)
    pressed("l", lambda s: s["loop"])
    pressed("l", lambda s: not s["loop"])
    pressed("End", lambda s: s["time"] > 28)
    pressed("Up", lambda s: s["time"] < 27.5)
    pressed("Down", lambda s: s["time"] > 28)
    pressed("Left", lambda s: s["time"] < 28.2)
    pressed("Home", lambda s: s["time"] == 0)
    pressed("shift+Right", lambda s: s["time"] == pytest.approx(1.0))
    pressed("shift+Left", lambda s: s["time"] == 0)
    pressed("Down", lambda s: s["time"] > 1.0)
    driver.key("q")
    assert driver.process.wait(timeout=PATIENCE) == 0


def test_every_other_key_is_pressed(driver, tmp_path):
    pressed = presser(driver)
    pressed("End", lambda s: s["time"] > 28)
    pressed("Left", lambda s: s["time"] < 28.2)
    for camera in "1234":
        pressed(camera, lambda s, camera=camera: s["camera"] == camera)
    pressed("plus", lambda s: s["zoom"] < 0.7)
    before = driver.state["zoom_start"]
    pressed("comma", lambda s: s["zoom_start"] < before)
    pressed("period", lambda s: s["zoom_start"] == pytest.approx(before))
    pressed("minus", lambda s: s["zoom"] == 1.0)
    for section in (1, 2, 3, 0):
        pressed("x", lambda s, section=section: s["section"] == section)
    # over a body: what it is, then faded, hidden, alone
    pressed("n", lambda s: s["camera"] == "finding")
    driver.xdotool("mousemove", "--window", driver.window, "330", "300")
    driver.xdotool("mousemove", "--window", driver.window, "332", "330")
    said = driver.until(lambda s: s["pointed"])["pointed"]
    assert said[-1].endswith("mm")
    body = said[0]
    for key, state in (("d", "faded"), ("i", "alone")):
        pressed(key, lambda s, state=state: s["bodies"] == {body: state})
        pressed(key, lambda s: s["bodies"] == {})
    pressed("h", lambda s: s["bodies"] == {body: "hidden"})
    pressed("r", lambda s: s["bodies"] == {} and s["camera"] == "finding")
    # two places, and how far apart they are
    pressed("m", lambda s: s["measuring"] and "first" in s["measured"])
    driver.click(332, 330)
    driver.until(lambda s: "second" in s["measured"])
    driver.click(420, 380)
    far = driver.until(lambda s: s["measured"][:1].isdigit())["measured"]
    assert 1 < float(far.split()[0]) < 3000 and "mm" in far
    pressed("Escape", lambda s: not s["measuring"])
    name = pressed("F2", lambda s: s["pictures"])["pictures"][0]
    with Image.open(tmp_path / name) as image:
        assert image.size == (1280, 800)
    pressed("F11", lambda s: s["full"] and s["size"] == [1400, 900])
    pressed("F11", lambda s: not s["full"])
    # the wheel scrolls the lists and zooms the chart
    driver.until(lambda s: s["size"] == [1280, 800])
    driver.xdotool("mousemove", "--window", driver.window, "1100", "180", "click", "5")
    driver.until(lambda s: s["list_from"] == 1)
    driver.xdotool("mousemove", "--window", driver.window, "900", "690", "click", "4")
    driver.until(lambda s: s["zoom"] == pytest.approx(0.8))
    driver.key("q")
    assert driver.process.wait(timeout=PATIENCE) == 0
    assert not [line for line in driver.log if "Error" in line or "Traceback" in line]


#: How a key of the list is pressed.
NAMES = {
    "left": "Left", "right": "Right", "home": "Home", "end": "End", "up": "Up", "down": "Down",
    "+": "plus", "-": "minus", "point": "period", "?": "question", "esc": "Escape",
}  # fmt: skip


def test_every_key_of_the_list_is_pressed_somewhere_above():
    """The list is read by people; what it names has to be a real press in this file."""
    from pathsim.view.playback_state import HELP

    text = Path(__file__).read_text(encoding="utf-8")
    pressed = set(re.findall(r'(?:key|pressed)\("([^"]+)"', text))
    pressed |= set(re.findall(r'\("([a-z])", "(?:faded|alone)"\)', text)) | set("1234")
    for keys, _ in HELP:
        if keys == "mouse":
            continue
        for key in re.split(r"[, ]+", keys):
            assert NAMES.get(key, key) in pressed, key


def test_the_reasons_end_with_the_cure_and_the_window_goes_on_while_it_is_looked_for(driver):
    driver.key("w")
    driver.until(lambda s: s["why"] and s["cure"] == ["Looking for a cure ..."])
    driver.key("s")
    driver.until(lambda s: s["slow"])
    driver.key("s")
    cure = driver.until(lambda s: len(s["cure"]) > 2)["cure"]
    assert cure[0] == "What cures it" and "50 mm from 'weld end', half way between" in cure[1]
    assert cure[2].startswith("Before: the neck touches the left clamp; after: ")
    driver.key("w")
    driver.until(lambda s: not s["why"])
    driver.key("q")
    assert driver.process.wait(timeout=PATIENCE) == 0
    assert not [line for line in driver.log if "Error" in line or "Traceback" in line]


def test_the_proposal_is_shown_and_written_after_a_question(driver, tmp_path):
    driver.key("g")
    driver.until(lambda s: s["ghost"])
    driver.key("g")
    driver.until(lambda s: not s["ghost"])
    driver.key("t")
    driver.until(lambda s: s["asking"] and len(s["cure"]) > 2)
    new = tmp_path / "gate_hinge_no_retract_advised"
    driver.key("n")  # no: nothing is written, and no other finding is gone to
    state = driver.until(lambda s: not s["asking"])
    assert state["finding"] == 0 and not state["written"]
    driver.key("t")
    driver.until(lambda s: s["asking"] and len(s["cure"]) > 2)
    assert not new.exists()
    driver.key("y")
    said = driver.until(lambda s: s["written"].startswith("Written to"))["written"]
    assert "read back the same and checked" in said and new.is_dir()
    driver.key("2")  # read, and gone with the next key
    driver.until(lambda s: not s["written"])
    driver.key("q")
    assert driver.process.wait(timeout=PATIENCE) == 0
    assert not [line for line in driver.log if "Error" in line or "Traceback" in line]


def test_saving_while_the_first_check_runs_is_noticed(tmp_path, monkeypatch):
    """The files are watched from before the check on."""
    from pathsim.view import opening, window

    folder = tmp_path / "cell"
    folder.mkdir()
    path = folder / "cell.yaml"
    path.write_text("before")
    seen = {}

    class FakeBeside:
        def ask(self):
            path.write_text("saved during the check")

        def first(self, _progress):
            return None

    class FakeWindow:
        def __init__(self, _scene, _beside, _folder, watcher):
            seen["watcher"] = watcher

        def run(self):
            seen["changed"] = seen["watcher"].changed()

    monkeypatch.setattr(window, "Window", FakeWindow)
    monkeypatch.setattr(opening, "require_window", lambda: None)
    opening.open_window(FakeBeside(), folder, lambda work: work(lambda _text, _share: None))
    assert seen["changed"]


class FakeScreen:
    """A render window that knows the dots of its screen, or does not."""

    def __init__(self, dots):
        self.dots, self.dpi = dots, 72

    def GetDPI(self):  # noqa: N802 - the library's name
        return self.dpi

    def SetDPI(self, dpi):  # noqa: N802
        self.dpi = dpi

    def DetectDPI(self):  # noqa: N802
        self.dpi = self.dots or self.dpi
        return self.dots is not None


@pytest.mark.parametrize(
    ("dots", "scale"), [(None, 1.0), (96, 1.0), (100, 1.0), (144, 1.5), (192, 2.0), (2000, 3.0)]
)
def test_type_follows_the_dots_of_the_screen(dots, scale):
    from pathsim.view.layout import layout
    from pathsim.view.screen import scale_of_screen

    window = FakeScreen(dots)
    assert scale_of_screen(window) == pytest.approx(scale)
    assert window.dpi == 72  # what is measured in pixels stays so
    assert layout(1920, 1080, scale).font >= layout(1920, 1080).font
    assert layout(1920, 1080, 2.0).font > layout(1920, 1080).font

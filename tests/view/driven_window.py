"""A window in another process: keys and clicks go in as X events, its state comes back."""

import contextlib
import json
import queue
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from tests.view.pixels import SAMPLES

PROGRAM = Path(__file__).with_name("window_program.py")
PATIENCE = 40.0  # s; slow machines draw slowly


class Driver:
    """A window in another process."""

    def __init__(self, folder, environment):
        self.environment = environment
        self.process = subprocess.Popen(
            [sys.executable, str(PROGRAM), str(folder)], env=environment, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        self.lines = queue.Queue()
        self.log = []
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()
        self.state = {}
        self.until(lambda s: s.get("frames", 0) > 0)
        self.window = self.xdotool("search", "--name", "pathsim").split()[0]

    def _read(self):
        for line in self.process.stdout:
            self.lines.put(line)

    def xdotool(self, *arguments):
        return subprocess.run(
            ["xdotool", *arguments], env=self.environment, capture_output=True, text=True,
            check=True, timeout=PATIENCE,
        ).stdout  # fmt: skip

    def until(self, wanted):
        """Read states until one is as wanted."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            if self.state and wanted(self.state):
                return self.state
            try:
                line = self.lines.get(timeout=0.5)
            except queue.Empty:
                continue
            self.log.append(line)
            if line.startswith("{"):
                self.state = json.loads(line)
        pytest.fail(f"never came: {self.state}\n{''.join(self.log[-5:])}")
        return None

    def key(self, name):
        self.xdotool("key", "--window", self.window, name)

    def click(self, x, y):
        self.xdotool("mousemove", "--window", self.window, str(x), str(y), "click", "1")


@contextlib.contextmanager
def driven_window(folder, screen):
    """Open the cell without a retract, copied to ``folder``, in a window on a screen."""
    for name in ("shop", "shop_arm", "gate_hinge", "gate_hinge_no_retract"):
        shutil.copytree(SAMPLES / name, folder / name)
    driven = Driver(folder / "gate_hinge_no_retract", screen)
    try:
        yield driven
    finally:
        if driven.process.poll() is None:
            driven.process.kill()
        driven.process.wait(timeout=10)
        driven.reader.join(timeout=10)
        driven.process.stdout.close()

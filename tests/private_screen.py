"""A screen of its own for programs that open windows; needs Xvfb."""

import contextlib
import os
import subprocess
import time


@contextlib.contextmanager
def private_screen():
    """Start a screen; yields the environment for a program that should appear on it."""
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
        environment = {**os.environ, "DISPLAY": f":{number.readline().strip()}"}
    environment.pop("VTK_DEFAULT_OPENGL_WINDOW", None)
    time.sleep(0.2)
    try:
        yield environment
    finally:
        server.terminate()
        server.wait(timeout=10)

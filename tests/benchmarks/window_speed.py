"""How soon the window is up after the check, frames a second, and the longest turn of a re-check.

Run: python -m tests.benchmarks.window_speed [CELL]   (needs xvfb; on a quiet machine)

Expected without a graphics card, at 1280x800: up 1 s after the check, 20 frames a second, no turn
of 100 ms while a saved cell is checked again. CPU seconds of this process are given beside the
wall clock, since others may use the machine.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.private_screen import private_screen

SAMPLES = Path(__file__).parents[2] / "sample_cells"
PLAYED = 6.0  # s
PATIENCE = 60.0  # s


class Turns:
    """Called once a turn of the window's loop: plays, saves, waits for the check, closes."""

    def __init__(self, ready, cell_file):
        self.ready, self.cell_file = ready, cell_file
        self.clock = (time.perf_counter(), time.process_time())
        self.stage, self.frames, self.began = "opening", 0, None
        self.said = []
        self.turns = []
        self.checked = 0.0

    def __call__(self, window):
        now = (time.perf_counter(), time.process_time())
        turn = (now[0] - self.clock[0], now[1] - self.clock[1])
        self.clock = now
        getattr(self, self.stage)(window, now, turn)
        if now[0] - self.ready[0] > PATIENCE + PLAYED:
            raise TimeoutError(f"never left '{self.stage}'")

    def go(self, stage, now, window):
        self.stage, self.began, self.frames, self.turns = stage, now, window.frames, []

    def since(self, now):
        return now[0] - self.began[0], now[1] - self.began[1]

    def opening(self, window, now, _turn):
        if window.frames:
            wall, cpu = now[0] - self.ready[0], now[1] - self.ready[1]
            self.said.append(f"window up after the check  {wall:6.2f} s   cpu {cpu:.2f} s")
            window.become(window.player.at(0.0).key("2").key("space"))
            self.go("playing", now, window)

    def playing(self, window, now, _turn):
        wall, cpu = self.since(now)
        if wall < PLAYED:
            return
        count = window.frames - self.frames
        self.said.append(
            f"frames a second            {count / wall:6.1f}     "
            f"cpu {1e3 * cpu / count:.0f} ms a frame ({1e3 * wall / count:.0f} ms wall)"
        )
        window.become(window.player.key("space"))
        text = self.cell_file.read_text(encoding="utf-8")
        self.cell_file.write_text(text.replace("air: 10 mm", "air: 11 mm"), encoding="utf-8")
        self.go("checking", now, window)

    def checking(self, window, now, turn):
        self.turns.append(turn)
        if window.picture.news:
            self.checked = now[0]
            self.stage = "settling"

    def settling(self, window, now, turn):
        self.turns.append(turn)
        if now[0] - self.checked > 1.0:  # the new picture is drawn, its edges smoothed
            walls, cpus = (sorted(values)[::-1] for values in zip(*self.turns, strict=True))
            self.said.append(f"longest turn of a re-check {1e3 * walls[0]:6.0f} ms   "
                             f"cpu {1e3 * cpus[0]:.0f} ms (then {1e3 * walls[1]:.0f}, "
                             f"{1e3 * walls[2]:.0f} ms wall; all took "
                             f"{self.since(now)[0] - 1.0:.1f} s)")  # fmt: skip
            window.become(window.player.key("q"))


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("cell", nargs="?", default="gate_hinge")
    parser.add_argument("--folder", type=Path, help="a copy to measure here, on this screen")
    given = parser.parse_args()
    if given.folder is not None:
        measure(given.folder)
        return
    with private_screen() as environment, tempfile.TemporaryDirectory() as folder:
        for cell in {given.cell, "shop", "shop_arm", "gate_hinge", "collar_seam"}:
            shutil.copytree(SAMPLES / cell, Path(folder) / cell)
        subprocess.run(
            [sys.executable, "-m", "tests.benchmarks.window_speed", "--folder",
             str(Path(folder) / given.cell)], env=environment, check=True,
        )  # fmt: skip


def measure(folder):
    from pathsim.view.beside import Beside, of_module
    from pathsim.view.probe import require_window
    from pathsim.view.watcher import Watcher

    beside = Beside(of_module("pathsim.cli.beside_window", str(folder)))
    try:
        watcher = Watcher(folder)
        beside.ask()
        require_window()
        from pathsim.view.window import Window

        scene = beside.first(lambda _text, _share: None)
        turns = Turns((time.perf_counter(), time.process_time()), folder / "cell.yaml")
        Window(scene, beside, folder, watcher=watcher).run(turns)
    finally:
        beside.close()
    print(f"{folder.name}, 1280x800, software rendering")
    print("\n".join(turns.said))


if __name__ == "__main__":
    main()

"""Opens the window on a cell and prints its state as it changes; run by the window's test."""

import json
import sys
from pathlib import Path

import pathsim
from pathsim.view.window import Window


def main():
    folder = Path(sys.argv[1])

    def load():
        return pathsim.check(pathsim.load_cell(folder))

    last = {}

    def tell(window):
        player = window.player
        state = {
            "time": round(player.time, 3),
            "camera": player.camera,
            "playing": player.playing,
            "slow": player.slow,
            "finding": player.finding,
            "help": player.help_shown,
            "why": player.why_shown,
            "cure": list(window.picture.cure),
            "fault": window.picture.fault,
            "clear": window.picture.scene.result.is_clear,
            "axis": str(player.axis),
            "speed": player.speed,
            "zoom": round(player.zoom.end - player.zoom.start, 4),
            "zoom_start": round(player.zoom.start, 4),
            "loop": player.loop,
            "frames": window.frames,
        }
        if state != last:
            print(json.dumps(state), flush=True)
            last.clear()
            last.update(state)

    Window(load(), load, folder).run(tell)


main()

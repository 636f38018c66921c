"""Opens the window on a cell and prints its state as it changes; run by the window's test."""

import json
import sys
import time
from pathlib import Path

import pathsim
from pathsim.session import Session
from pathsim.view.window import Window


def main():
    folder = Path(sys.argv[1])

    session = Session()

    def load():
        return session.check(pathsim.load_cell(folder))

    last = {}
    before = [time.perf_counter()]
    longest = [0.0]

    def tell(window):
        player = window.player
        now = time.perf_counter()
        if window.picture.is_checking:
            longest[0] = max(longest[0], now - before[0])
        before[0] = now
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
            "standstill": round(longest[0], 3),
            "bodies": dict(player.bodies),
            "section": player.section,
            "measuring": player.measuring,
            "measured": window.picture.measurement,
            "full": player.full_screen,
            "size": [window.picture.place.width, window.picture.place.height],
            "list_from": player.list_from,
            "moves_from": player.moves_from,
            "checking": window.picture.is_checking,
            "news": window.picture.news,
            "pointed": list(window.picture._pointed[1]) if window.picture._pointed else [],
            "pictures": [path.name for path in window.pictures],
            "frames": window.frames,
        }
        if state != last:
            print(json.dumps(state), flush=True)
            last.clear()
            last.update(state)

    Window(load(), load, folder, session=session).run(tell)


main()

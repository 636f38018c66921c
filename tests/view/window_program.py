"""Opens the window on a cell and prints its state as it changes; run by the window's test."""

import json
import sys
import time
from pathlib import Path

from pathsim.view.beside import Beside, of_module
from pathsim.view.watcher import Watcher
from pathsim.view.window import Window


def main():
    folder = Path(sys.argv[1])

    beside = Beside(of_module("pathsim.cli.beside_window", str(folder)))
    watcher = Watcher(folder)
    beside.ask()
    scene = beside.first(lambda _text, _share: None)
    last = {}
    before = [time.process_time()]
    longest = [0.0]  # CPU seconds of all threads in one turn, from the first saving on

    def tell(window):
        player = window.player
        now = time.process_time()
        if window.picture.is_checking or longest[0]:
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
            "cure": list(window.picture.cure.words) if window.picture.cure else [],
            "ghost": window.picture._ghost is not None,
            "asking": player.asking,
            "written": window.picture.written,
            "fault": window.picture.fault,
            "clear": window.picture.scene.result.is_clear,
            "axis": str(player.axis),
            "speed": player.speed,
            "zoom": round(player.zoom.end - player.zoom.start, 4),
            "zoom_start": round(player.zoom.start, 4),
            "loop": player.loop,
            "settled": window._is_smooth,
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

    try:
        Window(scene, beside, folder, watcher=watcher).run(tell)
    finally:
        beside.close()


main()

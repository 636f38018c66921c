"""Opening a window on a cell folder: the check runs in its process while drawing is loaded here."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pathsim.scene import Scene
from pathsim.view.beside import Beside, Progress
from pathsim.view.probe import require_window
from pathsim.view.watcher import Watcher

#: Waits for the first check and shows how far it has come.
Wait = Callable[[Callable[[Progress], Scene]], Scene]


def open_window(beside: Beside, folder: Path, wait: Wait) -> None:
    """Check a cell and show it until the window is closed; files that are saved are checked again.

    Files are watched from before the first check on, so that no saving is missed. Raises what
    the check raises, and CannotShow where there can be no window.
    """
    watcher = Watcher(folder)
    beside.ask()
    require_window()
    from pathsim.view.window import Window

    Window(wait(beside.first), beside, folder, watcher=watcher).run()

"""The screen that a window is on: the size of its dots, and taking all of it."""

from __future__ import annotations

from typing import Any

from pathsim.view.window_manager import ask_for_whole_screen

#: Dots an inch of a usual screen; a scale is one from the least on, and what is more is an error.
_USUAL_DPI, _LEAST_SCALE, _MOST_SCALE = 96.0, 1.25, 3.0
#: So often a screen without a window manager is asked again for all of it.
_TRIES = 20


def scale_of_screen(window: Any) -> float:
    """Return how much larger than usual type has to be on the screen that shows a window."""
    usual = window.GetDPI()
    found = float(window.GetDPI()) if window.DetectDPI() else _USUAL_DPI
    window.SetDPI(usual)  # text is measured in pixels: the library must not scale it too
    scale = min(found / _USUAL_DPI, _MOST_SCALE)
    return scale if scale >= _LEAST_SCALE else 1.0


class WholeScreen:
    """Takes the whole screen for a window, and gives it back.

    A window manager is asked, which takes its frame and bars away too; without one the window is
    made as large as the screen. It is never remade: that would lose its pictures.
    """

    def __init__(self, window: Any) -> None:
        self._window = window
        self._small: tuple[int, int] = window.GetSize()
        self._tries = 0

    def take(self, *, on: bool) -> None:
        """Fill the screen, or return to the size before."""
        window = self._window
        if on:
            self._small = window.GetSize()
        self._tries = 0
        if ask_for_whole_screen(window, on=on):
            return
        self._tries = _TRIES * on
        window.SetPosition(0, 0)
        window.SetSize(*(window.GetScreenSize() if on else self._small))

    def hold(self) -> None:
        """Ask again while the screen is not filled: news of the old size may come after the new."""
        window = self._window
        if self._tries and window.GetSize() != window.GetScreenSize():
            self._tries -= 1
            window.SetSize(*window.GetScreenSize())

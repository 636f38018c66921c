"""Keys, mouse and wheel of a window: what each does to the state that is shown."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Protocol

from pathsim.transforms import Array
from pathsim.view.picture import Picture
from pathsim.view.playback_state import Player, zoom_of_key
from pathsim.view.pointer import Pointer, measured

_WHEEL_ZOOM = 1.25
_RESTS = 0.15  # s without moving before the mouse points at something
_BODY_KEYS = {"d": "faded", "h": "hidden", "i": "alone"}
_FIRST = 10.0  # priority of our observers: before the library's own keys and mouse


class Shown(Protocol):
    """What the controls act on."""

    picture: Picture
    player: Player

    def become(self, player: Player) -> None:
        """Take on a state."""

    def touch(self) -> None:
        """Draw again in the next turn."""


class Controls:
    """Takes events of a window's interactor and changes what is shown."""

    def __init__(self, shown: Shown) -> None:
        self._shown = shown
        self._pointer = Pointer(shown.picture)
        self._mouse = (0, 0)
        self._moved_at: float | None = None
        self._is_hovering = False
        self._is_dragging = False
        self._places: tuple[Array, ...] = ()

    @property
    def measurement(self) -> str:
        """What is said of the places measured; nothing while nobody measures."""
        return measured(self._places) if self._shown.player.measuring else ""

    def forget_places(self) -> None:
        """Begin to measure anew."""
        self._places = ()

    def hover(self, now: float) -> None:
        """Say what the mouse points at once it rests."""
        if self._moved_at is None or now - self._moved_at < _RESTS or self._shown.player.playing:
            return
        self._moved_at = None
        found = self._pointer.at(*self._mouse)
        if found is not None:
            self._is_hovering = True
            self._shown.picture.hover(self._mouse, found.lines)
            self._shown.touch()

    def listen(self, interactor: Any) -> None:
        """Put our keys and clicks before the library's own, and keep ours from it."""

        def key(caller: Any) -> bool:
            shift = bool(caller.GetShiftKey())
            self._key(caller.GetKeySym(), shift=shift)
            return True

        def press(caller: Any) -> bool:
            return self._press(*caller.GetEventPosition())

        def move(caller: Any) -> bool:
            self._mouse = caller.GetEventPosition()
            return self._drag(caller.GetEventPosition()[0])

        def release(_caller: Any) -> bool:
            was, self._is_dragging = self._is_dragging, False
            return was

        def forward(caller: Any) -> bool:
            x, y = caller.GetEventPosition()
            return self._wheel(x, y, 1)

        def backward(caller: Any) -> bool:
            x, y = caller.GetEventPosition()
            return self._wheel(x, y, -1)

        def letter(_caller: Any) -> bool:
            return True  # the library's own letter keys (wireframe, leave, ...) must not act

        for event, action in (
            ("KeyPressEvent", key),
            ("CharEvent", letter),
            ("LeftButtonPressEvent", press),
            ("MouseMoveEvent", move),
            ("LeftButtonReleaseEvent", release),
            ("MouseWheelForwardEvent", forward),
            ("MouseWheelBackwardEvent", backward),
        ):
            self._observe(interactor, event, action)

    def _observe(self, interactor: Any, event: str, action: Callable[[Any], bool]) -> None:
        """Call ``action`` on an event; where it returns True the library does not see it."""
        tag = 0

        def act(caller: Any, _event: str) -> None:
            if action(caller):
                interactor.GetCommand(tag).SetAbortFlag(1)

        tag = interactor.AddObserver(event, act, _FIRST)

    def _press(self, x: float, y: float) -> bool:
        """Press the mouse; returns whether that was for chart or list and not for the stage."""
        picture, place = self._shown.picture, self._shown.picture.place
        for button in picture.buttons:
            if button.box.holds(x, y):
                self._key(button.key)
                return True
        for box, finding in picture.chart_hits:
            if box.holds(x, y):
                self._shown.become(self._shown.player.choose(finding))
                return True
        if place.strip.holds(x, y):
            self._is_dragging = True
            self._drag(x)
            return True
        if place.panel.holds(x, y):
            for row in picture.panel.rows:
                if row.box.holds(x, y):
                    self._shown.become(self._shown.player.choose(row.finding))
            for move in picture.panel.moves:
                if move.box.holds(x, y):
                    self._shown.become(replace(self._shown.player.at(move.time), playing=False))
            return True
        if self._shown.player.measuring:
            found = self._pointer.at(x, y)
            if found is not None:
                self._places = (*self._places, found.place)[-2 if len(self._places) < 2
                                                                else -1 :]  # fmt: skip
                self._shown.touch()
            return True
        return False  # the stage's: the eye that it moves is noticed when drawing

    def _wheel(self, x: float, y: float, by: int) -> bool:
        """Turn the wheel; returns whether that was for chart or lists and not for the stage."""
        place, panel = self._shown.picture.place, self._shown.picture.panel
        if place.strip.holds(x, y):
            share = self._shown.picture.axis(self._shown.player).share_at(x)
            self._shown.become(self._shown.player.zoomed(share, _WHEEL_ZOOM**by))
            return True
        if not place.panel.holds(x, y):
            return False
        if panel.moves_box is not None and panel.moves_box.holds(x, y):
            first = (panel.moves[0].move - 1 if panel.moves else 0) - by
            most = max(len(self._shown.picture.scene.bands) - len(panel.moves), 0)
            self._shown.become(replace(self._shown.player, moves_from=min(max(first, 0), most)))
        elif panel.rows:
            first = min(
                max(panel.rows[0].finding - by, 0), len(self._shown.picture.scene.marks) - 1
            )
            self._shown.become(replace(self._shown.player, list_from=first))
        return True

    def _key(self, name: str, *, shift: bool = False) -> None:
        how = _BODY_KEYS.get(name)
        if how is not None:
            found = self._pointer.at(*self._mouse)
            if found is not None and found.body:
                self._shown.become(self._shown.player.with_body(found.body, how))
            return
        factor = zoom_of_key(name)
        if factor is None:
            self._shown.become(self._shown.player.key(name, shift=shift))
            return
        share = self._shown.picture.axis(self._shown.player).share(self._shown.player.time)
        self._shown.become(self._shown.player.zoomed(share, factor))

    def _drag(self, x: float) -> bool:
        """Move the mouse; returns whether it is moving through time."""
        self._moved_at = time.perf_counter()
        if self._is_hovering:
            self._is_hovering = False
            self._shown.picture.hover((0, 0), ())
            self._shown.touch()
        if self._is_dragging:
            moment = self._shown.picture.axis(self._shown.player).time_at(x)
            self._shown.become(replace(self._shown.player.at(moment), playing=False))
        return self._is_dragging

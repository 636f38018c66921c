"""The window: events to the player, time to the picture, saved files to a new check."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from pathsim.errors import PathsimError
from pathsim.scene import Scene
from pathsim.transforms import Array
from pathsim.view.beside import Beside
from pathsim.view.picture import Picture, window_size
from pathsim.view.playback_state import Player, kept, opened, zoom_of_key
from pathsim.view.pointer import Pointer, measured
from pathsim.view.stills import write_screenshot
from pathsim.view.watcher import Watcher
from pathsim.view.what_changed import what_changed

_LOOK_AT_FILES = 1.0  # s between looks
_IDLE = 0.012  # s of sleep when nothing is to be done
_SETTLED = 0.35  # s without a change before edges are smoothed
_WHEEL_ZOOM = 1.25
_RESTS = 0.15  # s without moving before the mouse points at something
#: Dots an inch of a usual screen; a scale is one from the least on, and what is more is an error.
_USUAL_DPI, _LEAST_SCALE, _MOST_SCALE = 96.0, 1.25, 3.0
_BODY_KEYS = {"d": "faded", "h": "hidden", "i": "alone"}
_FIRST = 10.0  # priority of our observers: before the library's own keys and mouse


class Window:
    """A window on a checked cell. ``beside``: what checks it again, and finds and writes cures.

    Give a ``watcher`` that was made before the check: one made here from ``folder`` does not
    notice what was saved while the check ran.
    """

    def __init__(
        self,
        scene: Scene,
        beside: Beside | None = None,
        folder: Path | None = None,
        size: tuple[int, int] = (1280, 800),
        watcher: Watcher | None = None,
    ) -> None:
        self._beside = beside
        self._watcher = Watcher(folder) if watcher is None and folder is not None else watcher
        title = f"{scene.result.cell.name} - pathsim"
        self.picture = Picture(scene, size, off_screen=False, title=title)
        self.player = opened(scene.duration, _times(scene), _points(scene))
        self.frames = 0
        self._dragging = False
        self._dirty = True
        self._is_smooth = False
        self._has_shown = False  # and not rendered yet
        self._changed_at = time.perf_counter()
        self._view: object = None
        self._pointer = Pointer(self.picture)
        self._mouse = (0, 0)
        self._moved_at: float | None = None
        self._hovering = False
        self._small = size
        self._measured: tuple[Array, ...] = ()
        self._shown = self.player
        self._folder = folder
        self.pictures: list[Path] = []

    def run(self, each_step: Callable[[Window], None] | None = None) -> None:
        """Show the window until it is closed; ``each_step`` is called once a turn of the loop."""
        self.picture.show(self.player)
        self.picture.plotter.show(interactive_update=True, auto_close=False)
        interactor = self.picture.plotter.iren.interactor
        self.picture.on_screen(scale_of_screen(self.picture.plotter.render_window))
        self._listen(interactor)
        before = looked = time.perf_counter()
        while not self.player.closed and not interactor.GetDone():
            interactor.ProcessEvents()
            now = time.perf_counter()
            self._set(self.player.tick(now - before))
            before = now
            if self._watcher is not None and now - looked > _LOOK_AT_FILES:
                looked = now
                if self._watcher.changed():
                    self.check_again()
            self._take_check()
            self._look_for_cure()
            self._step(now)
            if each_step is not None:
                each_step(self)
        self.picture.close()

    def check_again(self) -> None:
        """Load and check the cell again, beside the window; the picture stays till it is done."""
        if self._beside is None:
            return
        self._beside.ask()
        self.picture.is_checking, self.picture.checked_share = True, 0.0
        self._touch()

    def _take_check(self) -> None:
        """Show what a check beside the window found; camera and time stay."""
        found = None if self._beside is None else self._beside.take()
        if found is None:
            self._say_how_far()
            return
        self.picture.is_checking = False
        if isinstance(found, Exception):
            self.picture.fault = str(found)
        else:
            old = self.picture.scene
            self.picture.fault = ""
            self.picture.cure = None
            self.picture.news = what_changed(old.result, found.result)
            chosen = same_finding(old, self.player.finding, found)
            self.player = kept(self.player, found.duration, _times(found), chosen, _points(found))
            self.picture.replace_scene(found, keep_camera=True)
        self._touch()

    def _say_how_far(self) -> None:
        """Count up while a check is under way, in steps that can be read."""
        share = 0.0 if self._beside is None else round(self._beside.share, 1)
        if self.picture.is_checking and share != self.picture.checked_share:
            self.picture.checked_share = share
            self._touch()

    def _look_for_cure(self) -> None:
        """Show the cure of the chosen finding as soon as it is known, and what came of writing."""
        if self._beside is None:
            return
        written = self._beside.written()
        if written is not None:
            self.picture.written = written.text
            self._touch()
        finding = self.player.finding
        is_asked = self.player.wants_cure and finding is not None
        cure = self._beside.cure(finding) if is_asked and finding is not None else None
        if cure is not self.picture.cure:
            self.picture.cure = cure
            self._touch()

    def _step(self, now: float) -> None:
        """Draw when something changed; smooth the edges once it has settled."""
        size = window_size(self.picture.plotter)
        if size != (self.picture.place.width, self.picture.place.height):
            self.picture.resize(size)
            self._touch()
        self._hover(now)
        self._act()
        if self._view is not None and self.picture.view() != self._view:
            self.picture.keep_above_floor()
            # Turned, moved or zoomed by any button or the wheel: marks have to follow.
            self.player = self.player.turned_by_hand()
            self._touch()
        if self._dirty:
            self.picture.measurement = measured(self._measured) if self.player.measuring else ""
            if self._is_smooth:
                self.picture.smooth(on=False)
                self._is_smooth = False
            self._dirty = False
            self._has_shown = True
            if not self.picture.show(self.player):
                self._render()  # else in the next turn: keys pressed meanwhile come first
        elif self._has_shown:
            self._render()
        elif not (self._is_smooth or self.picture.is_checking) and (
            now - self._changed_at > _SETTLED
        ):
            self._is_smooth = True
            self.picture.smooth(on=True)
            self.picture.render()
        else:
            time.sleep(_IDLE)

    def _render(self) -> None:
        self.picture.render()
        self._view = self.picture.view()
        self._has_shown = False
        self.frames += 1

    def _hover(self, now: float) -> None:
        """Say what the mouse points at once it rests."""
        if self._moved_at is None or now - self._moved_at < _RESTS or self.player.playing:
            return
        self._moved_at = None
        found = self._pointer.at(*self._mouse)
        if found is not None:
            self._hovering = True
            self.picture.hover(self._mouse, found.lines)
            self._touch()

    def _act(self) -> None:
        """Do once what keys asked for that is more than another picture."""
        old, new = self._shown, self.player
        if new is old:
            return
        self._shown = new
        if new.full_screen != old.full_screen:
            self._fill_screen(on=new.full_screen)
        if not new.measuring:
            self._measured = ()
        if new.asking and not old.asking and self._folder is not None:
            self.picture.new_folder = _new_folder(self._folder).name
        if new.writes != old.writes:
            self._write_cure()
        elif self.picture.written and new.time == old.time:
            self.picture.written = ""  # read, and something else was asked for
        if new.shots != old.shots and self._folder is not None:
            self.picture.show(new)
            try:
                self.pictures.append(write_screenshot(self.picture.image(), self._folder))
                self.picture.news = f"Picture written: {self.pictures[-1].name}"
            except PathsimError as error:
                self.picture.news = str(error)
            self._touch()

    def _write_cure(self) -> None:
        """Have the cure that was asked about written, if there is one."""
        finding, beside = self.player.finding, self._beside
        if finding is None or beside is None or self._folder is None:
            return
        if beside.cure(finding).ghost is not None:
            new = self._folder.parent / self.picture.new_folder
            self.picture.written = f"Writing '{new.name}', reading it back and checking it ..."
            beside.write(finding, new)
            self._touch()

    def _fill_screen(self, *, on: bool) -> None:
        """Take the whole screen, or the size before: a window remade would lose its pictures."""
        window = self.picture.plotter.render_window
        if on:
            self._small = window_size(self.picture.plotter)
        window.SetPosition(0, 0)
        window.SetSize(*(window.GetScreenSize() if on else self._small))

    def _touch(self) -> None:
        self._dirty, self._changed_at = True, time.perf_counter()

    def _set(self, player: Player) -> None:
        if player != self.player:
            self.player = player
            self._touch()

    def _listen(self, interactor: Any) -> None:
        """Put our keys and clicks before the library's own, and keep ours from it."""
        self.picture.plotter.reset_key_events()

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
            was, self._dragging = self._dragging, False
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
        picture, place = self.picture, self.picture.place
        for button in picture.buttons:
            if button.box.holds(x, y):
                self._key(button.key)
                return True
        for box, finding in picture.chart_hits:
            if box.holds(x, y):
                self._set(self.player.choose(finding))
                return True
        if place.strip.holds(x, y):
            self._dragging = True
            self._drag(x)
            return True
        if place.panel.holds(x, y):
            for row in picture.panel.rows:
                if row.box.holds(x, y):
                    self._set(self.player.choose(row.finding))
            for move in picture.panel.moves:
                if move.box.holds(x, y):
                    self._set(replace(self.player.at(move.time), playing=False))
            return True
        if self.player.measuring:
            found = self._pointer.at(x, y)
            if found is not None:
                self._measured = (*self._measured, found.place)[-2 if len(self._measured) < 2
                                                                else -1 :]  # fmt: skip
                self._touch()
            return True
        return False  # the stage's: the eye that it moves is noticed when drawing

    def _wheel(self, x: float, y: float, by: int) -> bool:
        """Turn the wheel; returns whether that was for chart or lists and not for the stage."""
        place, panel = self.picture.place, self.picture.panel
        if place.strip.holds(x, y):
            share = self.picture.axis(self.player).share_at(x)
            self._set(self.player.zoomed(share, _WHEEL_ZOOM**by))
            return True
        if not place.panel.holds(x, y):
            return False
        if panel.moves_box is not None and panel.moves_box.holds(x, y):
            first = (panel.moves[0].move - 1 if panel.moves else 0) - by
            most = max(len(self.picture.scene.bands) - len(panel.moves), 0)
            self._set(replace(self.player, moves_from=min(max(first, 0), most)))
        elif panel.rows:
            first = min(max(panel.rows[0].finding - by, 0), len(self.picture.scene.marks) - 1)
            self._set(replace(self.player, list_from=first))
        return True

    def _key(self, name: str, *, shift: bool = False) -> None:
        how = _BODY_KEYS.get(name)
        if how is not None:
            found = self._pointer.at(*self._mouse)
            if found is not None and found.body:
                self._set(self.player.with_body(found.body, how))
            return
        factor = zoom_of_key(name)
        if factor is None:
            self._set(self.player.key(name, shift=shift))
            return
        share = self.picture.axis(self.player).share(self.player.time)
        self._set(self.player.zoomed(share, factor))

    def _drag(self, x: float) -> bool:
        """Move the mouse; returns whether it is moving through time."""
        self._moved_at = time.perf_counter()
        if self._hovering:
            self._hovering = False
            self.picture.hover((0, 0), ())
            self._touch()
        if self._dragging:
            moment = self.picture.axis(self.player).time_at(x)
            self._set(replace(self.player.at(moment), playing=False))
        return self._dragging


def scale_of_screen(window: Any) -> float:
    """Return how much larger than usual type has to be on the screen that shows a window."""
    usual = window.GetDPI()
    found = float(window.GetDPI()) if window.DetectDPI() else _USUAL_DPI
    window.SetDPI(usual)  # text is measured in pixels: the library must not scale it too
    scale = min(found / _USUAL_DPI, _MOST_SCALE)
    return scale if scale >= _LEAST_SCALE else 1.0


def _new_folder(folder: Path) -> Path:
    """Return a name beside a cell that is free: ``gate_advised``, ``gate_advised_2``, ..."""
    name, number = f"{folder.resolve().name}_advised", 2
    new = folder.resolve().parent / name
    while new.exists():
        new, number = new.with_name(f"{name}_{number}"), number + 1
    return new


def same_finding(old: Scene, chosen: int | None, new: Scene) -> int | None:
    """Where the chosen finding of ``old`` stands in ``new``: same kind, move and pair."""
    if chosen is None or chosen >= len(old.result.findings):
        return None
    was = old.result.findings[chosen]
    key = (was.kind, was.move, was.piece, was.body)
    return next(
        (k for k, f in enumerate(new.result.findings) if (f.kind, f.move, f.piece, f.body) == key),
        None,
    )


def _times(scene: Scene) -> tuple[float | None, ...]:
    return tuple(mark.time for mark in scene.marks)


def _points(scene: Scene) -> tuple[float, ...]:
    """When each point of the program is reached, s."""
    return tuple(sorted({scene.bands[0].start, *(band.end for band in scene.bands)}))

"""The window: events to the player, time to the picture, saved files to a new check."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from pathsim.check import CheckResult
from pathsim.errors import PathsimError
from pathsim.scene import Scene, build_scene
from pathsim.session import Session
from pathsim.view.cure_worker import Cures
from pathsim.view.picture import Picture, window_size
from pathsim.view.playback_state import Player, kept, opened, zoom_of_key
from pathsim.view.watcher import Watcher

_LOOK_AT_FILES = 1.0  # s between looks
_IDLE = 0.012  # s of sleep when nothing is to be done
_SETTLED = 0.35  # s without a change before edges are smoothed
_WHEEL_ZOOM = 1.25
_FIRST = 10.0  # priority of our observers: before the library's own keys and mouse

Reload = Callable[[], CheckResult]


class Window:
    """A window on a checked cell. ``reload`` loads and checks the cell again.

    ``session``: the one that checks it; chart and cures use what it knows.
    Give a ``watcher`` that was made before the check: one made here from ``folder`` does not
    notice what was saved while the check ran.
    """

    def __init__(
        self,
        result: CheckResult,
        reload: Reload | None = None,
        folder: Path | None = None,
        size: tuple[int, int] = (1280, 800),
        watcher: Watcher | None = None,
        session: Session | None = None,
    ) -> None:
        self._session = session or Session()
        self._reload = reload
        self._watcher = Watcher(folder) if watcher is None and folder is not None else watcher
        scene = build_scene(result, self._session)
        title = f"{result.cell.name} - pathsim"
        self.picture = Picture(scene, size, off_screen=False, title=title)
        self.player = opened(scene.duration, _times(scene), _points(scene))
        self._cures = Cures(self._session)
        self.frames = 0
        self._dragging = False
        self._dirty = True
        self._is_smooth = False
        self._changed_at = time.perf_counter()
        self._view: object = None

    def run(self, each_step: Callable[[Window], None] | None = None) -> None:
        """Show the window until it is closed; ``each_step`` is called once a turn of the loop."""
        self.picture.show(self.player)
        self.picture.plotter.show(interactive_update=True, auto_close=False)
        interactor = self.picture.plotter.iren.interactor
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
                    before = time.perf_counter()
            self._look_for_cure()
            self._step(now)
            if each_step is not None:
                each_step(self)
        self.picture.close()

    def check_again(self) -> None:
        """Load and check the cell again; keep camera and time, or show what is wrong."""
        if self._reload is None:
            return
        try:
            scene = build_scene(self._reload(), self._session)
        except PathsimError as error:
            self.picture.fault = str(error)
            self._touch()
            return
        self.picture.fault = ""
        chosen = same_finding(self.picture.scene, self.player.finding, scene)
        self.player = kept(self.player, scene.duration, _times(scene), chosen, _points(scene))
        self.picture.replace_scene(scene, keep_camera=True)
        self._touch()

    def _look_for_cure(self) -> None:
        """Show the cure of the finding whose reasons are shown, as soon as it is known."""
        if not self.player.why_shown or self.player.finding is None:
            return
        cure = self._cures.words(self.picture.scene.result, self.player.finding)
        if cure != self.picture.cure:
            self.picture.cure = cure
            self._touch()

    def _step(self, now: float) -> None:
        """Draw when something changed; smooth the edges once it has settled."""
        size = window_size(self.picture.plotter)
        if size != (self.picture.place.width, self.picture.place.height):
            self.picture.resize(size)
            self._touch()
        if self._view is not None and self.picture.view() != self._view:
            # Turned, moved or zoomed by any button or the wheel: marks have to follow.
            self.player = self.player.turned_by_hand()
            self._touch()
        if self._dirty:
            if self._is_smooth:
                self.picture.smooth(on=False)
                self._is_smooth = False
            self.picture.show(self.player)
            self.picture.render()
            self._view = self.picture.view()
            self.frames += 1
            self._dirty = False
        elif not self._is_smooth and now - self._changed_at > _SETTLED:
            self._is_smooth = True
            self.picture.smooth(on=True)
            self.picture.show(self.player)
            self.picture.render()
        else:
            time.sleep(_IDLE)

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
        factor = zoom_of_key(name)
        if factor is None:
            self._set(self.player.key(name, shift=shift))
            return
        share = self.picture.axis(self.player).share(self.player.time)
        self._set(self.player.zoomed(share, factor))

    def _drag(self, x: float) -> bool:
        """Move the mouse; returns whether it is moving through time."""
        if self._dragging:
            moment = self.picture.axis(self.player).time_at(x)
            self._set(replace(self.player.at(moment), playing=False))
        return self._dragging


def view_cell(load: Reload, folder: Path, session: Session) -> None:
    """Check a cell and show it until the window is closed.

    ``load`` loads and checks it with ``session``, now and whenever a file of ``folder`` is saved.
    Files are watched from before the first check on, so that no saving is missed.
    """
    watcher = Watcher(folder)
    Window(load(), load, watcher=watcher, session=session).run()


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

"""The window: events to the player, time to the picture, saved files to a new check."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from pathsim.errors import PathsimError
from pathsim.scene import Scene
from pathsim.view.beside import Beside
from pathsim.view.controls import Controls
from pathsim.view.picture import Picture
from pathsim.view.playback_state import Player, kept, opened
from pathsim.view.screen import WholeScreen, scale_of_screen
from pathsim.view.stills import write_screenshot
from pathsim.view.watcher import Watcher
from pathsim.view.what_changed import same_finding, what_changed

_LOOK_AT_FILES = 1.0  # s between looks
_IDLE = 0.012  # s of sleep when nothing is to be done
_SETTLED = 0.35  # s without a change before edges are smoothed


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
        self._dirty = True
        self._is_smooth = False
        self._has_shown = False  # and not rendered yet
        self._changed_at = time.perf_counter()
        self._view: object = None
        self._screen = WholeScreen(self.picture.plotter.render_window)
        self._controls = Controls(self)
        self._shown = self.player
        self._folder = folder
        self.pictures: list[Path] = []

    def run(self, each_step: Callable[[Window], None] | None = None) -> None:
        """Show the window until it is closed; ``each_step`` is called once a turn of the loop."""
        self.picture.show(self.player)
        interactor = self.picture.plotter.open()
        self.picture.on_screen(scale_of_screen(self.picture.plotter.render_window))
        self._controls.listen(interactor)
        before = looked = time.perf_counter()
        while not self.player.closed and not interactor.GetDone():
            interactor.ProcessEvents()
            now = time.perf_counter()
            self.become(self.player.tick(now - before))
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
        self.touch()

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
        self.touch()

    def _say_how_far(self) -> None:
        """Count up while a check is under way, in steps that can be read."""
        share = 0.0 if self._beside is None else round(self._beside.share, 1)
        if self.picture.is_checking and share != self.picture.checked_share:
            self.picture.checked_share = share
            self.touch()

    def _look_for_cure(self) -> None:
        """Show the cure of the chosen finding as soon as it is known, and what came of writing."""
        if self._beside is None:
            return
        written = self._beside.written()
        if written is not None:
            self.picture.written = written.text
            self.touch()
        finding = self.player.finding
        is_asked = self.player.wants_cure and finding is not None
        cure = self._beside.cure(finding) if is_asked and finding is not None else None
        if cure is not self.picture.cure:
            self.picture.cure = cure
            self.touch()

    def _step(self, now: float) -> None:
        """Draw when something changed; smooth the edges once it has settled."""
        self._screen.hold()
        size = self.picture.plotter.size
        if size != (self.picture.place.width, self.picture.place.height):
            self.picture.resize(size)
            self.touch()
        self._controls.hover(now)
        self._act()
        if self._view is not None and self.picture.view() != self._view:
            self.picture.keep_above_floor()
            # Turned, moved or zoomed by any button or the wheel: marks have to follow.
            self.player = self.player.turned_by_hand()
            self.touch()
        if self._dirty:
            self.picture.measurement = self._controls.measurement
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

    def _act(self) -> None:
        """Do once what keys asked for that is more than another picture."""
        old, new = self._shown, self.player
        if new is old:
            return
        self._shown = new
        if new.full_screen != old.full_screen:
            self._screen.take(on=new.full_screen)
        if not new.measuring:
            self._controls.forget_places()
        if new.asking and not old.asking and self._folder is not None:
            self.picture.new_folder = _free_folder(self._folder).name
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
            self.touch()

    def _write_cure(self) -> None:
        """Have the cure that was asked about written, if there is one."""
        finding, beside = self.player.finding, self._beside
        if finding is None or beside is None or self._folder is None:
            return
        if beside.cure(finding).can_be_written:
            new = self._folder.parent / self.picture.new_folder
            self.picture.written = f"Writing '{new.name}', reading it back and checking it ..."
            beside.write(finding, new)
            self.touch()

    def touch(self) -> None:
        """Draw again in the next turn."""
        self._dirty, self._changed_at = True, time.perf_counter()

    def become(self, player: Player) -> None:
        """Take on a state."""
        if player != self.player:
            self.player = player
            self.touch()


def _free_folder(folder: Path) -> Path:
    """Return a name beside a cell that is free: ``gate_advised``, ``gate_advised_2``, ..."""
    name, number = f"{folder.resolve().name}_advised", 2
    new = folder.resolve().parent / name
    while new.exists():
        new, number = new.with_name(f"{name}_{number}"), number + 1
    return new


def _times(scene: Scene) -> tuple[float | None, ...]:
    return tuple(mark.time for mark in scene.marks)


def _points(scene: Scene) -> tuple[float, ...]:
    """When each point of the program is reached, s."""
    return tuple(sorted({scene.bands[0].start, *(band.end for band in scene.bands)}))

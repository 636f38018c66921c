"""Checking a saved cell again beside the window, and what that changed. Nothing here draws."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable

from pathsim.check import CheckResult
from pathsim.errors import PathsimError
from pathsim.findings import Finding, Level
from pathsim.scene import Scene, build_scene
from pathsim.session import Session


class Rechecks:
    """Checks in a thread of its own, one at a time; files saved meanwhile are checked after it."""

    def __init__(self, reload: Callable[[], CheckResult], session: Session) -> None:
        self._reload, self._session = reload, session
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._is_asked_again = False
        self._done: Scene | str | None = None

    @property
    def is_running(self) -> bool:
        """Tell whether a check is under way."""
        with self._lock:
            return self._thread is not None

    def ask(self) -> None:
        """Check the cell as it is saved now."""
        with self._lock:
            if self._thread is not None:
                self._is_asked_again = True
                return
            self._thread = threading.Thread(target=self._work, name="check", daemon=True)
            self._thread.start()

    def take(self) -> Scene | str | None:
        """Return a new scene, or what is wrong with the files; None while there is neither."""
        with self._lock:
            done, self._done = self._done, None
            return done

    def _work(self) -> None:
        while True:
            found: Scene | str
            try:
                found = build_scene(self._reload(), self._session)
            except PathsimError as error:
                found = str(error)
            except Exception as error:  # whatever it is: a dead thread would check for ever
                found = f"the check ended early: {error}"
            with self._lock:
                if self._is_asked_again:  # saved meanwhile: what was found is of older files
                    self._is_asked_again = False
                    continue
                self._done, self._thread = found, None
                return


def what_changed(old: CheckResult, new: CheckResult) -> str:
    """Say in a line what a check of changed files found otherwise than the one before."""
    before, after = _grave(old), _grave(new)
    gone, come = before - after, after - before
    parts = [
        f"{sum(found.values())} {word}" for found, word in ((gone, "gone"), (come, "new")) if found
    ]
    seconds = new.trajectory.duration - old.trajectory.duration
    if abs(seconds) >= 0.05:
        parts.append(f"{abs(seconds):.1f} s {'longer' if seconds > 0 else 'shorter'}")
    said = ", ".join(parts) if parts else "stop and watch findings as before"
    return f"Checked again: {said}."


def _grave(result: CheckResult) -> Counter[tuple[object, ...]]:
    return Counter(_key(f) for f in result.findings if f.level.at_least(Level.WATCH))


def _key(finding: Finding) -> tuple[object, ...]:
    return (finding.level, finding.kind, finding.move, finding.piece, finding.body)

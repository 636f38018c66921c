"""The process beside the window, as the window sees it: checks, cures, a cell written.

Checking in a thread would hold the interpreter, and the picture would stand still with it.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

from pathsim.errors import CannotCheck, PathsimError
from pathsim.scene import Scene
from pathsim.view.messages import (
    Check,
    Checked,
    Cure,
    Cured,
    FindCure,
    Request,
    Working,
    WriteCure,
    Written,
    receive,
    send,
)

LOOKING = Cure(("Looking for a cure ...",))
ENDED = Cure(("The search for a cure ended early; save a file of the cell to check it again.",))
#: So long the window waits for the process to end, s.
_PATIENCE = 2.0

Progress = Callable[[str, float], None]


class Beside:
    """One process that checks a cell again and again; only the newest request counts.

    ``command`` starts it. Nothing here waits, but for ``first``; the window takes what is there.
    """

    def __init__(self, command: Sequence[str]) -> None:
        self._command = list(command)
        self._news = threading.Condition()
        self._process: subprocess.Popen[bytes] | None = None
        self._asked = self._shown = self._held = 0
        self._done: Scene | Exception | None = None
        self._working: Working | None = None
        self._cures: dict[int, Cure] = {}
        self._written: Written | None = None

    @property
    def is_running(self) -> bool:
        """Tell whether a check is under way."""
        with self._news:
            return self._shown < self._asked and self._done is None

    @property
    def share(self) -> float:
        """How much of the check under way is done, 0..1."""
        with self._news:
            return 0.0 if self._working is None else self._working.share

    def ask(self) -> None:
        """Check the cell as it is saved now; a check under way is given up."""
        with self._news:
            self._asked += 1
            self._done = self._working = None
            self._send(Check(self._asked))

    def first(self, progress: Progress) -> Scene:
        """Wait for the check that was asked for. Raises PathsimError as the check does."""
        with self._news:
            while self._done is None:
                self._news.wait(0.05)
                if self._working is not None:
                    progress(self._working.text, self._working.share)
        found = self.take()
        if isinstance(found, Scene):
            return found
        raise found if isinstance(found, PathsimError) else CannotCheck(str(found))

    def take(self) -> Scene | Exception | None:
        """Return a new scene, or what is wrong with the files; None while there is neither."""
        with self._news:
            done, self._done = self._done, None
            if isinstance(done, Scene):
                self._cures, self._held = {}, self._asked
            if done is not None:
                self._shown = self._asked
            return done

    def cure(self, finding: int) -> Cure:
        """Return the cure of a finding of the scene last taken; ``LOOKING`` till it is known."""
        with self._news:
            if finding not in self._cures and not self._is_alive:
                self._cures[finding] = ENDED
            if finding not in self._cures:
                self._cures[finding] = LOOKING
                self._send(FindCure(self._held, finding))
            return self._cures[finding]

    def write(self, finding: int, new: Path) -> None:
        """Write the cell with a finding's cure to a new folder; ``written`` tells the outcome."""
        with self._news:
            self._send(WriteCure(self._held, finding, new))

    def written(self) -> Written | None:
        """Return what came of writing, once."""
        with self._news:
            written, self._written = self._written, None
            return written

    def close(self) -> None:
        """End the process; one that is just writing a cell ends after it."""
        process, self._process = self._process, None
        if process is None or process.stdin is None:
            return
        with contextlib.suppress(OSError):
            process.stdin.close()  # then nobody asks any more, and it ends
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(_PATIENCE)

    def _send(self, request: Request) -> None:
        """Ask; starts the process where there is none, or where it ended."""
        for _ in range(2):
            process = self._started()
            try:
                assert process.stdin is not None  # noqa: S101 - it was started with a pipe
                send(process.stdin, request)
            except OSError:
                self._process = None
            else:
                return

    @property
    def _is_alive(self) -> bool:
        return self._process is not None and self._process.poll() is None

    def _started(self) -> subprocess.Popen[bytes]:
        if self._process is None or not self._is_alive:
            self._process = subprocess.Popen(  # noqa: S603 - our own interpreter and module
                self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE
            )
            threading.Thread(
                target=self._listen, args=(self._process,), name="answers", daemon=True
            ).start()
        return self._process

    def _listen(self, process: subprocess.Popen[bytes]) -> None:
        """Take answers until the process ends."""
        assert process.stdout is not None  # noqa: S101 - it was started with a pipe
        try:
            with contextlib.suppress(OSError, ValueError), process.stdout as pipe:
                while (message := receive(pipe)) is not None:
                    with self._news:
                        self._take_in(message)
                        self._news.notify_all()
        except Exception:  # an answer that cannot be read: whoever waits for it waits for ever
            process.kill()
        code = process.wait()
        with contextlib.suppress(OSError):
            if process.stdin is not None:
                process.stdin.close()
        with self._news:
            self._cures = {k: ENDED if c is LOOKING else c for k, c in self._cures.items()}
            if self._process is process and self._shown < self._asked and self._done is None:
                self._done = CannotCheck(
                    f"the check ended early (exit code {code}); save a file of the cell to check "
                    "it again"
                )
                self._news.notify_all()

    def _take_in(self, message: object) -> None:
        match message:
            case Working(number=number) if number == self._asked:
                self._working = message
            case Checked(number=number, found=found) if number == self._asked:
                self._done, self._working = found, None
            case Cured(number=number, finding=finding, cure=cure) if number == self._held:
                self._cures[finding] = cure
            case Written():
                self._written = message


def of_module(module: str, *arguments: str) -> list[str]:
    """Return the command that runs a module of this program with this interpreter."""
    return [sys.executable, "-m", module, *arguments]

"""The process beside a window: it checks the cell, looks for cures and writes them.

Run by the window with a cell folder as its argument; requests come on standard input, answers go to
standard output. It ends when the window does.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
import time
from pathlib import Path
from typing import IO

from pathsim.advice import Evaluator, advise_on
from pathsim.advice.cure_text import advice_in_words
from pathsim.check import CheckResult, Progress
from pathsim.cli.take_cure import write_proposals
from pathsim.errors import CannotCheck, PathsimError
from pathsim.files import load_cell
from pathsim.files.cell_writer import require_new_place
from pathsim.model import Cell
from pathsim.motion import Trajectory
from pathsim.scene import build_scene
from pathsim.scene.ghost_of_cure import ghost_of, ghost_of_cell
from pathsim.session import Session
from pathsim.stopping import PATIENCE
from pathsim.view.messages import (
    Answer,
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


class Superseded(BaseException):
    """A newer check was asked for: what is under way is of no use to anybody.

    No ``Exception``: nothing on the way may take it for a search that found nothing.
    """


class Requests:
    """Requests as they come. The newest check comes first, then the newest of the others."""

    def __init__(self) -> None:
        self._news = threading.Condition()
        self._waiting: list[Request] = []
        self._newest = 0
        self._is_over = False

    def put(self, request: Request) -> None:
        """Take a request; of checks only the newest is left."""
        with self._news:
            if isinstance(request, Check):
                self._newest = request.number
                self._waiting = [one for one in self._waiting if not isinstance(one, Check)]
            self._waiting.append(request)
            self._news.notify_all()

    def end(self) -> None:
        """Take none any more."""
        with self._news:
            self._is_over = True
            self._news.notify_all()

    def next(self) -> Request | None:
        """Wait for a request; None when none will come any more."""
        with self._news:
            while not self._waiting and not self._is_over:
                self._news.wait()
            if self._is_over:
                return None
            checks = [one for one in self._waiting if isinstance(one, Check)]
            chosen = checks[0] if checks else self._waiting[-1]
            self._waiting.remove(chosen)
            return chosen

    def require_newest(self, number: int) -> None:
        """Raise Superseded when a check newer than ``number`` was asked for, or nobody asks."""
        if self._newest > number or self._is_over:
            raise Superseded


class _WatchedSession(Session):
    """A session that gives up as soon as what it works for is out of date."""

    def __init__(self, requests: Requests) -> None:
        super().__init__()
        self._requests = requests
        self.works_for = 0

    def plan(self, cell: Cell) -> Trajectory:
        self._requests.require_newest(self.works_for)
        return super().plan(cell)

    def check(self, cell: Cell, progress: Progress | None = None) -> CheckResult:
        def between(text: str, share: float) -> None:
            self._requests.require_newest(self.works_for)
            if progress is not None:
                progress(text, share)

        between("", 0.0)
        return super().check(cell, between)


class BesideWindow:
    """Answers requests about one cell folder, one at a time."""

    def __init__(self, folder: Path, answers: IO[bytes]) -> None:
        self._folder, self._answers = folder, answers
        self.requests = Requests()
        self._session = _WatchedSession(self.requests)
        self._evaluator: Evaluator | None = None
        self._result: CheckResult | None = None
        self._number = 0  # of the check that found the result

    def run(self) -> None:
        """Answer until nobody asks any more."""
        while (request := self.requests.next()) is not None:
            try:
                self.do(request)
            except Superseded:
                if not isinstance(request, Check):
                    self.requests.put(request)  # the newer check may find the files faulty

    def do(self, request: Request) -> None:
        """Answer one request. Raises Superseded when it came to be out of date meanwhile."""
        if isinstance(request, Check):
            self._tell(self._check(request.number))
        elif request.number == self._number and self._result is not None:
            is_writing = isinstance(request, WriteCure)
            self._tell(self._write(request) if is_writing else self._cured(request))
        elif isinstance(request, WriteCure):
            self._tell(Written("Nothing was written: the cell was saved meanwhile.", False))

    def _tell(self, answer: Answer) -> None:
        with contextlib.suppress(OSError):  # the window is gone: requests end too
            send(self._answers, answer)

    def _check(self, number: int) -> Checked:
        """Load and check; what was found before is kept where the files are faulty."""
        self._session.works_for = number

        def progress(text: str, share: float) -> None:
            self._tell(Working(number, text, share))

        try:
            result = self._session.check(load_cell(self._folder), progress)
            self.requests.require_newest(number)
            scene = build_scene(result, self._session)
        except PathsimError as error:
            return Checked(number, error)
        except Exception as error:  # whatever it is: the window would wait for ever
            return Checked(number, CannotCheck(f"the check ended early: {error}"))
        self._result, self._number, self._evaluator = result, number, None
        return Checked(number, scene)

    def _evaluated(self) -> Evaluator:
        """Return the evaluator of the result, kept for its other findings."""
        if self._evaluator is None:
            assert self._result is not None  # noqa: S101 - asked before
            self._evaluator = Evaluator(self._result.cell, self._session, self._result)
        return self._evaluator

    def _cured(self, request: FindCure | WriteCure) -> Cured:
        try:
            advice = advise_on(self._evaluated(), request.finding + 1)
            ghost = None
            if advice.proposals:
                ghost = ghost_of(advice.proposals[0])
            elif advice.of_cell:
                ghost = ghost_of_cell(advice.of_cell[0])
            cure = Cure(advice_in_words(advice), ghost)
        except Exception as error:  # whatever it is: the window would wait for ever
            cure = Cure((f"The search for a cure ended early: {error}",))
        return Cured(request.number, request.finding, cure)

    def _write(self, request: FindCure | WriteCure) -> Written:
        assert isinstance(request, WriteCure)  # noqa: S101 - asked before
        try:
            require_new_place(self._folder, request.new)
            advice = advise_on(self._evaluated(), request.finding + 1)
            proposals = advice.proposals[:1]
            written = write_proposals(self._folder, request.new, self._evaluated(), proposals)
        except Exception as error:  # whatever it is: the window would wait for ever
            return Written(_as_sentence(str(error)), False)
        return Written(written.text, True)


def _as_sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def main() -> None:
    """Answer the window that started this process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the window's to decide
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # what a library prints is no answer
    beside = BesideWindow(Path(sys.argv[1]), answers)

    def listen() -> None:
        while (request := receive(sys.stdin.buffer)) is not None:
            beside.requests.put(request)  # type: ignore[arg-type]
        beside.requests.end()
        time.sleep(PATIENCE)
        os._exit(1)

    threading.Thread(target=listen, name="requests", daemon=True).start()
    beside.run()


if __name__ == "__main__":
    main()

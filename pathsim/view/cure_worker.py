"""Looking for the cure of a finding while the window goes on: nothing here draws."""

from __future__ import annotations

import queue
import threading

from pathsim.advice import Evaluator
from pathsim.advice.cure_text import cure_in_words
from pathsim.check import CheckResult
from pathsim.session import Session

LOOKING = ("Looking for a cure ...",)


class Cures:
    """Cures of a result's findings, found one after the other in a thread of its own.

    The window asks for words each time it draws; nothing it does waits for the search. The thread
    only ever makes text: the drawing library may be used from one thread alone.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._wanted: queue.SimpleQueue[tuple[CheckResult, int]] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._result: CheckResult | None = None
        self._words: dict[int, tuple[str, ...]] = {}
        self._evaluator: tuple[CheckResult, Evaluator] | None = None
        self._thread: threading.Thread | None = None

    def words(self, result: CheckResult, finding: int) -> tuple[str, ...]:
        """Return the cure of a finding, by its index; that it is looked for, until it is known."""
        with self._lock:
            if result is not self._result:  # checked again: what was found is of another cell
                self._result, self._words = result, {}
            if finding not in self._words:
                self._words[finding] = LOOKING
                self._wanted.put((result, finding))
                self._start()
            return self._words[finding]

    def _start(self) -> None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="cures", daemon=True)
            self._thread.start()

    def _work(self) -> None:
        while True:
            result, finding = self._wanted.get()
            with self._lock:
                if result is not self._result:
                    continue
            try:
                found = cure_in_words(self._evaluator_of(result), finding + 1)
            except Exception as error:  # whatever it is: a dead thread would look for ever
                found = (f"The search for a cure ended early: {error}",)
            with self._lock:
                if result is self._result:
                    self._words[finding] = found

    def _evaluator_of(self, result: CheckResult) -> Evaluator:
        """Return the evaluator of a result, kept for its other findings."""
        if self._evaluator is None or self._evaluator[0] is not result:
            self._evaluator = (result, Evaluator(result.cell, self._session, result))
        return self._evaluator[1]

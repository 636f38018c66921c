"""Signals that ask the program to stop: raised where nothing is lost, else held for a moment.

On Windows Ctrl+C and Ctrl+Break come as signals; the task manager ends a process at once, as
SIGKILL and a power cut do. Against those only files written aside and renamed help.
"""

from __future__ import annotations

import contextlib
import os
import signal
import threading
from collections.abc import Iterator
from types import FrameType

#: Those that there are on this system, of all that people and systems stop a program with.
SIGNALS = tuple(
    getattr(signal, name)
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
    if hasattr(signal, name)
)


#: So long a program may take to stop, s.
PATIENCE = 10.0


class Stopped(BaseException):
    """A signal asked the program to stop; ``exit_code`` is what shells expect then."""

    def __init__(self, number: int) -> None:
        super().__init__(f"signal {number}")
        self.exit_code = 128 + number


@contextlib.contextmanager
def stopped_by_signals() -> Iterator[list[int]]:
    """Within, a signal raises Stopped. One that was ignored before (nohup) stays ignored.

    Yields the signals that came: a library that catches everything while it loads goes on half
    loaded, and whatever comes of that is no answer. Where it was interrupted between taking a lock
    and the line that would have given it back, the program waits for ever: after ``PATIENCE`` s it
    is ended from outside of all that, as by a power cut, which files written aside survive.
    """
    came: list[int] = []
    # Bare locks: whatever else a handler might use may be what it interrupted.
    asked, over = threading.Lock(), threading.Lock()
    asked.acquire()
    over.acquire()

    def end_in_time() -> None:
        asked.acquire()
        if not over.acquire(timeout=PATIENCE):
            os._exit(128 + came[0])

    def stop(number: int, _frame: FrameType | None) -> None:
        came.append(number)
        if len(came) == 1:
            asked.release()
        raise Stopped(number)

    threading.Thread(target=end_in_time, name="end in time", daemon=True).start()
    try:
        with _handled(stop):
            yield came
    finally:
        over.release()
        if not came:
            asked.release()


@contextlib.contextmanager
def signals_held() -> Iterator[None]:
    """Within, signals wait until the end: for a few renames that belong together."""
    came: list[int] = []
    with _handled(lambda number, _frame: came.append(number)):
        yield
    for number in came:
        signal.raise_signal(number)


@contextlib.contextmanager
def signals_as_usual() -> Iterator[None]:
    """Within, signals do what they do to any program: for a window, whose loop is not ours."""
    usual = dict.fromkeys(SIGNALS, signal.SIG_DFL)
    with _set({**usual, signal.SIGINT: signal.default_int_handler}):
        yield


@contextlib.contextmanager
def _handled(handler: signal._HANDLER) -> Iterator[None]:
    with _set(dict.fromkeys(SIGNALS, handler)):
        yield


@contextlib.contextmanager
def _set(handlers: dict[signal.Signals, signal._HANDLER]) -> Iterator[None]:
    """Put handlers in for a while; only the main thread may, and in others nothing changes."""
    before: dict[signal.Signals, signal._HANDLER] = {}
    try:
        if threading.current_thread() is threading.main_thread():
            for number, handler in handlers.items():
                # None: a handler that was not set from Python, which could not be put back.
                if signal.getsignal(number) not in (signal.SIG_IGN, None):
                    before[number] = signal.signal(number, handler)
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)

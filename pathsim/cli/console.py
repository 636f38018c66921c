"""The terminal: tables, bars of progress, and a check behind such a bar."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from rich.console import Console

from pathsim.files import load_cell

if TYPE_CHECKING:
    from pathsim.check import CheckResult, Progress
    from pathsim.model import Cell
    from pathsim.session import Session

Answer = TypeVar("Answer")
#: Width of tables when the output is no terminal.
_PLAIN_WIDTH, _LEAST_WIDTH = 110, 20


def table_console() -> Console:
    """Console for tables; when the output is no terminal as wide as COLUMNS says, or as usual."""
    console = Console(soft_wrap=False)
    if console.is_terminal:
        return console
    asked = os.environ.get("COLUMNS", "")
    width = int(asked) if asked.isdigit() and int(asked) >= _LEAST_WIDTH else _PLAIN_WIDTH
    return Console(width=width)


def with_bar(work: Callable[[Progress], Answer], what: str = "drawing") -> Answer:
    """Run long work with a bar on a terminal's standard error."""
    messages = Console(stderr=True)
    if not messages.is_terminal:
        return work(lambda _text, _share: None)
    from rich.progress import Progress as Bar

    with Bar(console=messages, transient=True) as bar:
        task = bar.add_task(what, total=1.0)
        return work(lambda text, share: bar.update(task, description=text, completed=share))


def ask_for(question: str, words: tuple[str, ...], usual: str) -> str:
    """Ask on the terminal until one of ``words`` comes; ``usual`` if nothing is typed."""
    from rich.prompt import Prompt

    return Prompt.ask(question, choices=list(words), default=usual)


def typed(question: str) -> str:
    """Return what is typed in answer to a question; nothing at the end of the input."""
    from rich.prompt import Prompt

    try:
        return Prompt.ask(question, default="", show_default=False)
    except EOFError:
        return ""


def checked(
    folder: Path, session: Session | None = None, loaded: Callable[[Cell], None] = lambda _: None
) -> CheckResult:
    """Load and check, with a bar on a terminal's standard error.

    ``session``: of the checks before, so that only what changed is measured again.
    ``loaded``: called with the cell before it is checked; it may raise.
    """

    def work(progress: Progress) -> CheckResult:
        from pathsim.session import Session

        cell = load_cell(folder)
        loaded(cell)
        return (session or Session()).check(cell, progress)

    return with_bar(work, "reading the cell")

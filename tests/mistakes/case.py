"""A mistake of the shop, as a small change to a sound cell, and what it must bring."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pathsim.findings import Level

SAMPLES = Path(__file__).parents[2] / "sample_cells"

#: Changes the copy of a cell; gets the cell's own folder, beside which the other samples lie.
Change = Callable[[Path], None]


@dataclass(frozen=True)
class Mistake:
    """Something that people do wrong.

    ``cell``: the sample it is done to. ``level``: of the finding that it must bring; None where
    the cell has to be refused (exit code 2). ``words``: all of them in that one finding's text,
    or in the refusal; upper and lower case are one. ``both_engines``: by the reference engine too.
    """

    name: str
    cell: str
    change: Change
    level: Level | None
    words: tuple[str, ...]
    both_engines: bool = False


@dataclass(frozen=True)
class Harmless:
    """A change that is as it should be: nothing at watch or stop may come of it."""

    name: str
    cell: str
    change: Change


def copy_of(cell: str, folder: Path) -> Path:
    """Copy the sample cells to ``folder`` and return where ``cell`` lies there."""
    shutil.copytree(SAMPLES, folder, ignore=shutil.ignore_patterns("*.png", "*.py", "README.md"))
    return folder / cell


def swap(old: str, new: str, file: str = "cell.yaml") -> Change:
    """Put ``new`` in the place of ``old``, which stands exactly once in ``file``."""

    def change(folder: Path) -> None:
        path = folder / file
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, (path.name, old, text.count(old))
        path.write_text(text.replace(old, new), encoding="utf-8")

    return change


def all_of(*changes: Change) -> Change:
    """Make several changes, one after the other."""

    def change(folder: Path) -> None:
        for each in changes:
            each(folder)

    return change

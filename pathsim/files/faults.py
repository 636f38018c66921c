"""Collecting faults, so that a person mends a file once and not ten times."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from pathsim.errors import CellFaults, Fault


class FaultList:
    """Faults found so far."""

    def __init__(self) -> None:
        self._faults: list[Fault] = []

    def add(
        self, file: str, line: int | None, key: str, came: str, expected: str, cure: str = ""
    ) -> None:
        """Note one fault."""
        fault = Fault(file, line, key, came, expected, cure)
        if fault not in self._faults:
            self._faults.append(fault)

    def __len__(self) -> int:
        return len(self._faults)

    def raise_if_any(self) -> None:
        """Raise CellFaults with all faults, in the order of files and lines."""
        if self._faults:
            raise CellFaults(sorted(self._faults, key=lambda f: (f.file, f.line or 0, f.key)))


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return a likely cure for a mistyped word, empty when nothing is near."""
    near = likely(word, known)
    return "" if near is None else f"Did you mean '{near}'?"


def likely(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that a mistyped one most likely stands for; None where none is near."""
    folded = {name.casefold(): name for name in known}
    near = difflib.get_close_matches(word.casefold(), list(folded), n=1, cutoff=0.5)
    return folded[near[0]] if near else None

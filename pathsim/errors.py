"""Everything that pathsim raises on purpose.

    PathsimError
    ├── ShapeError       an array with the wrong shape, or numbers that are not finite
    ├── ArmError         an arm description that cannot be built, a pose that cannot be asked
    ├── UnitError        a quantity without a unit, or with one that does not fit
    ├── CellError        a record of a cell (body, point, move, ...) that cannot be meant
    │   └── LineError    a line of the program that cannot be laid out at its points
    ├── MeshError        triangles that cannot be measured
    ├── MotionError      a move that has no meaning (three arc points in a line)
    ├── WeldTouched      a proposal that would move a weld; nobody gets to see one
    ├── CellFaults       faults in the files of a cell, all of them at once
    └── CannotCheck      the check could not be carried out
        └── NothingWritten   what was found was not written; the text says why

The command line turns any of them into exit code 2 and its text on standard error.
"""

from __future__ import annotations

from dataclasses import dataclass


class PathsimError(Exception):
    """Base of all errors that a user can cause."""


class ShapeError(PathsimError, ValueError):
    """An array has the wrong shape or holds numbers that are not finite."""


class ArmError(PathsimError, ValueError):
    """An arm description cannot be built, or a pose cannot be asked of it."""


class UnitError(PathsimError, ValueError):
    """A quantity came without a unit or with one of the wrong kind.

    ``came``: what came, without the rule that it breaks.
    """

    def __init__(self, text: str, came: str | None = None) -> None:
        super().__init__(text)
        self.came = text if came is None else came


class CellError(PathsimError, ValueError):
    """A record of a cell holds what cannot be: the text names the field, and what is expected."""


class LineError(CellError):
    """A line of the program does not fit its points; ``line``: where the cell file says it."""

    def __init__(self, line: int | None, target: str, came: str, expected: str) -> None:
        super().__init__(f"line to {target!r}: {came}; expected {expected}")
        self.line, self.target, self.came, self.expected = line, target, came, expected

    def __reduce__(self) -> tuple[type[LineError], tuple[int | None, str, str, str]]:
        """Pickle by what it was made of: the text alone would not bring it back."""
        return (LineError, (self.line, self.target, self.came, self.expected))


class MeshError(PathsimError, ValueError):
    """A mesh cannot be measured: empty, not finite, indices out of range."""


class MotionError(PathsimError, ValueError):
    """A move has no meaning as described."""


class WeldTouched(PathsimError, ValueError):  # noqa: N818 - what happened, in the field's words
    """A change to a program would move or change a weld."""


class CannotCheck(PathsimError):  # noqa: N818 - reads as the sentence the user sees
    """The check could not be carried out; the text says why."""


class NothingWritten(CannotCheck):
    """What was asked for was not written, and all files are as they were; the text says why."""


@dataclass(frozen=True)
class Fault:
    """One fault in one file: where it is, what came, what was expected, a likely cure."""

    file: str
    line: int | None
    key: str
    came: str
    expected: str
    cure: str = ""

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        key = f" {self.key}:" if self.key else ""
        cure = f" {self.cure}" if self.cure else ""
        end = "" if self.expected.endswith("?") else "."
        return f"{place}:{key} {self.came}; expected {self.expected}{end}{cure}"


class CellFaults(PathsimError):  # noqa: N818 - several faults, not one error
    """All faults found in the files of a cell."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = tuple(faults)
        count = len(self.faults)
        head = "1 fault" if count == 1 else f"{count} faults"
        super().__init__(f"{head} in the cell's files:\n" + "\n".join(str(f) for f in self.faults))

    def __reduce__(self) -> tuple[type[CellFaults], tuple[list[Fault]]]:
        """Pickle by the faults: the text alone would not bring them back."""
        return (CellFaults, (list(self.faults),))

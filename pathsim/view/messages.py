"""What a window and the process beside it say to each other, and how that goes through a pipe."""

from __future__ import annotations

import pickle
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from pathsim.scene import Scene
from pathsim.scene.ghost import CureGhost

_LENGTH = struct.Struct("<Q")


@dataclass(frozen=True)
class Check:
    """Load and check the cell as it is saved now. ``number`` goes up; the newest one wins."""

    number: int


@dataclass(frozen=True)
class FindCure:
    """Look for the cure of a finding, by its index, of the check with ``number``."""

    number: int
    finding: int


@dataclass(frozen=True)
class WriteCure:
    """Write the cell with the cure of a finding to a new folder, checked."""

    number: int
    finding: int
    new: Path


Request = Check | FindCure | WriteCure


@dataclass(frozen=True)
class Working:
    """How far a check has come: ``share`` 0..1."""

    number: int
    text: str
    share: float


@dataclass(frozen=True, eq=False)
class Checked:
    """What a check found; an error where the files cannot be checked."""

    number: int
    found: Scene | Exception


@dataclass(frozen=True, eq=False)
class Cure:
    """A finding's cure in words, and as what can be drawn; ``ghost`` None: nothing to draw."""

    words: tuple[str, ...]
    ghost: CureGhost | None = None

    @property
    def can_be_written(self) -> bool:
        """It changes the program alone; a clamp is moved by hand."""
        return self.ghost is not None and not self.ghost.what


@dataclass(frozen=True, eq=False)
class Cured:
    """The cure of a finding."""

    number: int
    finding: int
    cure: Cure


@dataclass(frozen=True)
class Written:
    """What came of writing a cure, in a sentence."""

    text: str
    is_done: bool


Answer = Working | Checked | Cured | Written


def send(pipe: IO[bytes], message: Request | Answer) -> None:
    """Write a message. Raises OSError where nobody is there to read it."""
    data = pickle.dumps(message, pickle.HIGHEST_PROTOCOL)
    pipe.write(_LENGTH.pack(len(data)) + data)
    pipe.flush()


def receive(pipe: IO[bytes]) -> Request | Answer | None:
    """Wait for the next message; None where none will come any more."""
    head = pipe.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    size = _LENGTH.unpack(head)[0]
    data = pipe.read(size)
    if len(data) < size:
        return None
    message: Request | Answer = pickle.loads(data)  # noqa: S301 - from our own process only
    return message

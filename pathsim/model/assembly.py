"""A mesh file of several parts of which a cell uses some: which, and what for."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.errors import CellError
from pathsim.model import sound


@dataclass(frozen=True)
class Assembly:
    """A file of several parts. ``file``: its name as results show it.

    ``parts``: name of each, and of all bodies, pieces of the torch and links that are made of it;
    of none for a part that is in the file and not in the cell. ``meant``: parts that a person
    says are not there, so that nobody forgot them. Raises CellError.
    """

    file: str
    parts: tuple[tuple[str, tuple[str, ...]], ...]
    meant: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        sound.text("assembly: file", self.file)
        sound.once(f"assembly {self.file!r}: name of a part", (name for name, _ in self.parts), ())
        for name in self.meant:
            if name not in self.left_out:
                raise CellError(
                    f"assembly {self.file!r}: {name!r} is said to be left out, and is no part of "
                    "it, or in the cell"
                )

    @property
    def left_out(self) -> tuple[str, ...]:
        """Names of the parts that nothing in the cell is made of."""
        return tuple(name for name, users in self.parts if not users)

    @property
    def forgotten(self) -> tuple[str, ...]:
        """Names of the parts that nothing is made of, and of which nobody said that it is meant."""
        return tuple(name for name in self.left_out if name not in self.meant)

"""Where results may be written: never over what somebody made, only over an older one of a kind.

Each kind of result carries a mark by which it is known again. A file without it is not replaced,
whatever its ending says.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from pathsim.atomic_write import write_whole
from pathsim.errors import CannotCheck

#: Where marks stand: they are looked for in so many bytes at each end of a file.
_LOOKED_AT = 65_536


class Output(Enum):
    """What may be written: its name in messages, and the mark of an older one."""

    RESULT = ("result of 'pathsim check'", rb'\A\s*\{\s*"format":\s*"pathsim-result"')
    ADVICE = ("result of 'pathsim advise'", rb'\A\s*\{\s*"format":\s*"pathsim-advice"')
    MOTION_TABLE = ("table of 'pathsim motion'", rb"\A(\xef\xbb\xbf)?# pathsim-motion ")
    MOTION = ("result of 'pathsim motion'", rb'\A\s*\{\s*"format":\s*"pathsim-motion"')
    STILL = ("picture of 'pathsim still'", rb"\A\x89PNG.*pathsim still")
    CLIP = ("clip of 'pathsim still'", rb"\ARIFF.*pathsim clip")
    PAGE = ("page of 'pathsim explain'", rb'<meta name="generator" content="pathsim explain">')
    SHEET_PAGE = ("sheet of 'pathsim sheet'", rb'<meta name="generator" content="pathsim sheet">')
    SHEET = ("sheet of 'pathsim sheet'", rb"\A%PDF-.*\(pathsim sheet\)")

    @property
    def words(self) -> str:
        """Its name in messages."""
        return self.value[0]

    def is_one(self, path: Path) -> bool:
        """Tell whether a file is an older output of this kind; an empty one may be taken for it."""
        with path.open("rb") as stream:
            seen = stream.read(_LOOKED_AT)
            stream.seek(max(0, path.stat().st_size - _LOOKED_AT))
            seen += stream.read()
        return not seen or re.search(self.value[1], seen, re.DOTALL) is not None


@dataclass(frozen=True)
class OutputFile:
    """A file that is to be written; ``inputs``: those that the cell is read from."""

    path: Path
    kind: Output
    inputs: tuple[Path, ...]

    @classmethod
    def free(cls, path: Path, kind: Output, inputs: Iterable[Path]) -> OutputFile:
        """Return the place for an output; CannotCheck when something of the user's is there."""
        place = cls(path, kind, tuple(inputs))
        place.require_free()
        return place

    def beside(self, path: Path) -> OutputFile:
        """Return the place for another output of the same kind and cell; CannotCheck as above."""
        return OutputFile.free(path, self.kind, self.inputs)

    def require_free(self) -> None:
        """Require that writing here loses nothing of the user's; raises CannotCheck."""
        path = self.path
        try:
            if not path.parent.is_dir():
                raise CannotCheck(f"cannot write '{path}': there is no folder '{path.parent}'")
            taken = next((one for one in self.inputs if _are_one(path, one)), None)
            if taken is not None:
                raise CannotCheck(
                    f"'{path}' would replace '{taken.name}', a file that this cell is read from. "
                    "Nothing was written. Give the output another name"
                )
            if not path.exists():
                return
            if path.is_dir():
                raise CannotCheck(f"'{path}' is a folder. Give the name of a file in it")
            if not path.is_file():
                raise CannotCheck(f"'{path}' is no ordinary file. Give the name of a new file")
            if not self.kind.is_one(path):
                raise CannotCheck(
                    f"'{path}' exists and is no {self.kind.words}. It was not replaced. Give "
                    "another name, or move that file away first"
                )
        except OSError as error:
            raise CannotCheck(f"cannot write '{path}': {error.strerror or error}") from error

    def write(self, contents: str | bytes) -> None:
        """Write it whole, unless something of the user's has come there meanwhile."""
        self.require_free()
        write_whole(self.path, contents)


def _are_one(out: Path, taken: Path) -> bool:
    """Tell whether two paths are one file: by links of any kind, or but for upper and lower case.

    The latter everywhere: a folder that goes from one computer to another must not lose a file.
    """
    if out.exists() and taken.exists() and out.samefile(taken):
        return True
    return str(out.resolve()).casefold() == str(taken.resolve()).casefold()

"""What the files of a cell hold, and which files those are."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from pathsim.errors import CannotCheck
from pathsim.files.faults import did_you_mean, likely
from pathsim.model import Cell

CELL_FILE = "cell.yaml"


class Contents:
    """Bytes of files, and a hash of each that was read, by the name that is shown of it.

    ``instead``: bytes by real path that count in the place of what is on disk, so that a change
    can be read as it would be before it is made.
    """

    def __init__(self, instead: Mapping[Path, bytes] = MappingProxyType({})) -> None:
        self._instead = dict(instead)
        self.digests: dict[str, bytes] = {}

    def read(self, path: Path) -> bytes:
        """Return the bytes of a file; OSError when it cannot be read."""
        if self._instead:
            changed = self._instead.get(path.resolve())
            if changed is not None:
                return changed
        return path.read_bytes()


def own_folder(folder: str | Path) -> Path:
    """Return a cell's folder, which may be named by its ``cell.yaml`` too."""
    path = Path(folder)
    return path.parent if path.name == CELL_FILE else path


def require_cell(folder: str | Path, path: Path) -> None:
    """Require that a cell's own folder ``path`` is one; raises CannotCheck with what is near."""
    if not path.is_dir():
        names = [p.name for p in path.parent.iterdir()] if path.parent.is_dir() else []
        cure = did_you_mean(path.name, names)
        raise CannotCheck(f"there is no cell folder '{folder}'. {cure}".rstrip())
    if not (path / CELL_FILE).is_file():
        named = [p.name for p in sorted(path.iterdir()) if p.suffix in (".yml", ".yaml")]
        near = likely(CELL_FILE, named)
        cure = "'pathsim new FOLDER' writes a new one"
        if near is not None:
            cure = f"is '{near}' meant? Name it {CELL_FILE}"
        raise CannotCheck(f"the folder '{folder}' holds no {CELL_FILE}, so it is no cell; {cure}")


def input_files(folder: str | Path, cell: Cell) -> tuple[Path, ...]:
    """Return every file that a cell was read from, as it lies on disk."""
    own = own_folder(folder).resolve()
    return (own / CELL_FILE, *(own.parent / name for name in cell.files))

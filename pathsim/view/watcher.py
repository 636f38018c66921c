"""Noticing that a cell's files were saved."""

from __future__ import annotations

import re
from pathlib import Path

from pathsim.mesh_files.reading import FORMATS

_ENDINGS = (".yaml", ".csv", ".urdf", *FORMATS)
#: A text of any name may be a table of points, if the cell says so.
_WORDS = "|".join(ending[1:] for ending in (*_ENDINGS, ".txt"))
#: A file that a cell's file may name, however deep it lies; too many matches do no harm.
_NAMED = re.compile(rf"[^\n\r,:{{}}\[\]'\"#]*?\.(?:{_WORDS})\b", re.IGNORECASE)
#: Descriptions: they name other files.
_NAMING = (".yaml", ".urdf")


class Watcher:
    """Looks at the files beside and around a cell; ``changed`` tells once for each saving."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder.resolve()
        self._root = self._folder.parent
        #: What each description names, with the stamp it had when it was read.
        self._read: dict[Path, tuple[tuple[int, int], list[Path]]] = {}
        self._seen = self._stamps()

    def changed(self) -> bool:
        """Tell whether any file was saved, came or went since the last call."""
        now = self._stamps()
        if now == self._seen:
            return False
        self._seen = now
        return True

    def _stamps(self) -> dict[Path, tuple[int, int]]:
        """Time and size of the files in the cell's folder and those beside, and all they name.

        Folders that are hidden are not looked at: a cell that is being written is one.
        """
        beside = (p for p in _children(self._root) if p.is_dir() and not p.name.startswith("."))
        waiting = [self._folder, *beside]
        found = [path for folder in dict.fromkeys(waiting) for path in _children(folder)]
        files = [path for path in found if path.suffix.lower() in _ENDINGS]
        stamps: dict[Path, tuple[int, int]] = {}
        while files:
            path = files.pop()
            if path in stamps:
                continue
            try:
                status = path.stat()
            except OSError:
                continue  # it is not there, or went away between listing and looking
            stamps[path] = (status.st_mtime_ns, status.st_size)
            if path.suffix.lower() in _NAMING:
                files.extend(self._named(path, stamps[path]))
        return stamps

    def _named(self, path: Path, stamp: tuple[int, int]) -> list[Path]:
        """Return the files under the root that a description names."""
        known = self._read.get(path)
        if known is not None and known[0] == stamp:
            return known[1]
        try:
            text = path.read_text(encoding="utf-8", errors="replace")
        except OSError:
            return []
        named = {
            (path.parent / match.group().strip().replace("\\", "/")).resolve()
            for match in _NAMED.finditer(text)
        }
        inside = sorted(place for place in named if place.is_relative_to(self._root))
        self._read[path] = (stamp, inside)
        return inside


def _children(folder: Path) -> list[Path]:
    try:
        return sorted(folder.iterdir())
    except OSError:
        return []

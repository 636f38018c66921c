"""Noticing that a cell's files were saved."""

from __future__ import annotations

from pathlib import Path

_ENDINGS = (".yaml", ".csv", ".stl", ".obj", ".ply", ".glb")


class Watcher:
    """Looks at the files beside and around a cell; ``changed`` tells once for each saving."""

    def __init__(self, folder: Path) -> None:
        self._root = folder.resolve().parent
        self._folder = folder.resolve()
        self._seen = self._stamps()

    def changed(self) -> bool:
        """Tell whether any file was saved, came or went since the last call."""
        now = self._stamps()
        if now == self._seen:
            return False
        self._seen = now
        return True

    def _stamps(self) -> dict[str, tuple[int, int]]:
        """Time and size of every file that a cell may name: its own folder and those beside."""
        stamps = {}
        folders = [self._folder, *(p for p in _children(self._root) if p.is_dir())]
        for folder in dict.fromkeys(folders):
            for path in _children(folder):
                if path.suffix.lower() in _ENDINGS:
                    try:
                        status = path.stat()
                    except OSError:
                        continue  # it went away between listing and looking
                    stamps[str(path)] = (status.st_mtime_ns, status.st_size)
        return stamps


def _children(folder: Path) -> list[Path]:
    try:
        return sorted(folder.iterdir())
    except OSError:
        return []

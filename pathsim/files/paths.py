"""Where the files of a cell may lie."""

from __future__ import annotations

import re
from pathlib import Path, PurePosixPath, PureWindowsPath

_URL = re.compile(r"^[a-zA-Z][a-zA-Z0-9+.-]+:/")


def confined(text: str, beside: Path, root: Path) -> tuple[Path | None, str]:
    """Resolve a path written in a cell's file; return it, or None and what is wrong.

    Paths are relative to the folder of the file that names them and stay under ``root``,
    the folder that holds the cell folder: a cell that is copied or mailed stays whole.
    """
    if "\0" in text:
        return None, "holds a zero byte"
    if _URL.match(text):
        return None, "is an address, not a file"
    if PurePosixPath(text).is_absolute() or PureWindowsPath(text).drive or text[:1] in "/\\~":
        return None, "is an absolute path"
    try:
        path = (beside / text.replace("\\", "/")).resolve()
    except (OSError, RuntimeError):
        return None, "cannot be followed (links in a circle?)"
    if not path.is_relative_to(root.resolve()):
        return None, "leads out of the folder that holds the cell folder"
    return path, ""


def shown(path: Path, root: Path) -> str:
    """Return a path as messages show it: relative to the folder that holds the cell folder."""
    try:
        return path.resolve().relative_to(root.resolve()).as_posix()
    except ValueError:
        return path.name

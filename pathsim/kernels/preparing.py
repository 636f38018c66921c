"""Who compiles the kernels just now: a file says so, that two processes do not do it at once."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from pathlib import Path

from pathsim.kernels.cache_folder import kernels_folder
from pathsim.kernels.sources import sources_hash

#: A process that compiles is given up after this, s; one that failed is tried again after it.
LONGEST = 900.0
_FAILED = "failed"


def begin_preparing(folder: Path) -> Path | None:
    """Return the file that says that somebody compiles; None when another one does already."""
    lock = folder / "preparing"
    try:
        if not _holds(lock):
            lock.unlink(missing_ok=True)
        lock.touch(exist_ok=False)
    except OSError:
        return None
    return lock


def finish_preparing(is_kept: bool) -> None:
    """Say that compiling is over; when nothing could be kept, that it is not tried at once."""
    key = sources_hash()
    folder = None if key is None else kernels_folder(key)
    if folder is None:
        return
    with contextlib.suppress(OSError):
        if is_kept:
            (folder / "preparing").unlink()
        else:
            (folder / "preparing").write_text(_FAILED)


def has_failed(folder: Path) -> bool:
    """Tell whether kernels were compiled lately and could not be kept."""
    lock = folder / "preparing"
    return _holds(lock) and _said(lock) == _FAILED


def _holds(lock: Path) -> bool:
    """Tell whether somebody is still at it, or has failed so lately that it would fail again."""
    try:
        age = time.time() - lock.stat().st_mtime
    except OSError:
        return False
    said = _said(lock)
    return age <= LONGEST and (not said.isdecimal() or _runs(int(said)))


def _said(lock: Path) -> str:
    try:
        return lock.read_text()
    except (OSError, ValueError):
        return ""


def _runs(process: int) -> bool:
    """Tell whether a process of this computer runs; on Windows that is not asked this way."""
    if sys.platform == "win32":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True

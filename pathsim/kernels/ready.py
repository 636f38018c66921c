"""Whether kernels are compiled on this computer; until then they run as plain Python."""

from __future__ import annotations

import hashlib
import os
import platform
import sys
from enum import Enum
from pathlib import Path

from pathsim.kernels import compiler_start
from pathsim.kernels.cache_folder import VARIABLE, kernels_folder
from pathsim.kernels.sources import sources_hash

#: "reference": use no kernels at all.
ENGINE = "PATHSIM_ENGINE"
REFERENCE = "reference"
#: Bytes of the checksum before what is kept.
SEAL = 20
#: Of the files of compiled code.
_SUFFIXES = (".nbi", ".nbc")


def ready_mark(folder: Path) -> Path:
    """Return the file that says that kernels are compiled for this kind of processor.

    The folder may be shared by several computers; code for one does not run on another.
    """
    system = f"{platform.system()}-{platform.machine()}-{platform.node()}"
    version = ".".join(map(str, sys.version_info[:3]))
    return folder / f"ready-{system}-{version}".replace(os.sep, "-")


class State(Enum):
    """How compiled kernels are on disk."""

    NOT_YET = "not yet compiled"
    DAMAGED = "damaged"
    READY = "ready"


def are_ready() -> bool:
    """Tell whether kernels may be called now without waiting for the compiler."""
    # Asked of every few kernels: what is not there is told twice as fast by ``in``.
    if ENGINE in os.environ and os.environ[ENGINE] == REFERENCE:
        return False
    where = os.environ[VARIABLE] if VARIABLE in os.environ else None  # noqa: SIM401
    if where not in _found and _are_kept():
        _found.add(where)
    return where in _found


_found: set[str | None] = set()


def _are_kept() -> bool:
    key = sources_hash()
    folder = None if key is None else kernels_folder(key)
    return folder is not None and kept_state(folder) is State.READY and compiler_start.loads()


def kept_state(folder: Path) -> State:
    """Tell how the kernels in a folder are; looks at all files anew when they were made anew."""
    mark = ready_mark(folder)
    try:
        status = mark.stat()
    except OSError:
        return State.NOT_YET
    stamp = (status.st_mtime_ns, status.st_size, status.st_ino)
    if _looked.get(folder, (None, None))[0] != stamp:
        _looked[folder] = (stamp, State.READY if _is_right(mark) else State.DAMAGED)
    return _looked[folder][1]


_looked: dict[Path, tuple[tuple[int, int, int], State]] = {}


def set_ready_mark(folder: Path) -> None:
    """Say that all that is in a folder is ready; OSError when it cannot be written."""
    names = sorted(
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.suffix in _SUFFIXES
    )
    raw = "\n".join(names).encode()
    mark = ready_mark(folder)
    temporary = mark.with_name(f".{mark.name}-{os.getpid()}")
    temporary.write_bytes(sealed(raw))
    temporary.replace(mark)


def _is_right(mark: Path) -> bool:
    """Tell whether a mark and all files that it names are there and whole."""
    try:
        raw = mark.read_bytes()
        if not is_whole(raw):
            return False
        names = raw[SEAL:].decode().splitlines()
        return bool(names) and all(is_whole((mark.parent / n).read_bytes()) for n in names)
    except (OSError, ValueError):
        return False


def sealed(raw: bytes) -> bytes:
    """Return bytes with their checksum before them."""
    return hashlib.blake2b(raw, digest_size=SEAL).digest() + raw


def is_whole(raw: bytes) -> bool:
    """Tell whether bytes carry their right checksum before them."""
    return len(raw) > SEAL and hashlib.blake2b(raw[SEAL:], digest_size=SEAL).digest() == raw[:SEAL]

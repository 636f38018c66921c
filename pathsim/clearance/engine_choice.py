"""Which engine answers: the fast one when its kernels are ready, until then the reference.

Both answer the same questions to the same tolerance. Kernels are compiled once after an
installation, by a process of its own, so that the first check does not wait for it.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from pathsim.clearance.engine import Engine
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.kernels import compiler_start
from pathsim.kernels.cache_folder import VARIABLE, kernels_folder
from pathsim.kernels.preparing import begin_preparing, has_failed
from pathsim.kernels.ready import ENGINE, REFERENCE, State, kept_state, ready_mark
from pathsim.kernels.sources import sources_hash
from pathsim.model import Cell

if TYPE_CHECKING:
    from pathsim.clearance.swept.cache import EngineCache

PREPARING = (
    "The fast engine is being made ready in the background (once after an installation, one to two "
    "minutes); this check was answered by the slower reference engine, to the same tolerance."
)
DAMAGED = (
    "What is kept of the fast engine on this computer was damaged (a full disk, a power cut?). It "
    "is being made anew in the background; this check was answered by the slower reference engine, "
    "to the same tolerance."
)
NOTHING_KEPT = (
    "The reference engine answered, which is slower and as exact: compiled kernels cannot be "
    f"kept on this computer (set {VARIABLE} to a folder that can be written to)."
)
NO_COMPILER = (
    "The reference engine answered, which is slower and as exact: the compiler of the fast one "
    "(numba) does not load here."
)
_MODULE = "pathsim.clearance.swept.warm_up"


class SharedCache:
    """What engines keep from one check to the next; empty until the fast engine has answered."""

    def __init__(self) -> None:
        self.memory: EngineCache | None = None


def engine_for(cell: Cell, kept: SharedCache | None = None, cap: float | None = None) -> Engine:
    """Return the engine that answers for a cell now; its ``note`` says why not the fast one.

    ``cap`` m: farther than this is all that it says; as the engines have it when not given.
    """
    if os.environ.get(ENGINE) == REFERENCE:
        return ReferenceEngine(cell, cap=cap)
    folder = _folder()
    if folder is None:
        return ReferenceEngine(
            cell, cap=cap, note=NO_COMPILER if sources_hash() is None else NOTHING_KEPT
        )
    state = kept_state(folder)
    if state is not State.READY:
        if state is State.DAMAGED:
            with contextlib.suppress(OSError):
                ready_mark(folder).unlink()
        if has_failed(folder):
            return ReferenceEngine(cell, cap=cap, note=NOTHING_KEPT)
        start_preparing(folder)
        return ReferenceEngine(cell, cap=cap, note=DAMAGED if state is State.DAMAGED else PREPARING)
    if not compiler_start.loads():
        return ReferenceEngine(cell, cap=cap, note=NO_COMPILER)
    from pathsim.clearance.swept.engine import FastEngine

    engine = FastEngine(cell, cap=cap, memory=None if kept is None else kept.memory)
    if kept is not None:
        kept.memory = engine.memory
    return engine


def start_preparing(folder: Path) -> bool:
    """Start compiling in a process of its own, unless one is at it; tell whether it was started."""
    lock = begin_preparing(folder)
    if lock is None:
        return False  # another one has it in hand
    try:
        detached: dict[str, object] = (
            {"creationflags": subprocess.CREATE_NO_WINDOW}  # type: ignore[attr-defined]
            if sys.platform == "win32"
            else {"start_new_session": True}
        )
        process = subprocess.Popen(  # type: ignore[call-overload]  # noqa: S603
            [sys.executable, "-m", _MODULE],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            **detached,
        )
        # Whoever finds it dead may begin anew at once.
        lock.write_text(str(process.pid))
    except OSError:
        return False  # no process can be started
    return True


def _folder() -> Path | None:
    key = sources_hash()
    return None if key is None else kernels_folder(key)

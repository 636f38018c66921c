"""Whether kernels are compiled on this computer; until then plain code answers."""

from __future__ import annotations

import os
import platform
import sys
from functools import cache
from pathlib import Path

from pathsim.kernels.cache_folder import VARIABLE, kernels_folder
from pathsim.kernels.sources import sources_hash

#: "reference": use no kernels at all.
ENGINE = "PATHSIM_ENGINE"
REFERENCE = "reference"


def ready_mark(folder: Path) -> Path:
    """Return the file that says that kernels are compiled for this kind of processor.

    The folder may be shared by several computers; code for one does not run on another.
    """
    system = f"{platform.system()}-{platform.machine()}-{platform.node()}"
    version = ".".join(map(str, sys.version_info[:3]))
    return folder / f"ready-{system}-{version}".replace(os.sep, "-")


def are_ready() -> bool:
    """Tell whether kernels may be called now without waiting for the compiler."""
    if os.environ.get(ENGINE) == REFERENCE:
        return False
    where = os.environ.get(VARIABLE)
    if where not in _found and _are_kept():
        _found.add(where)
    return where in _found


_found: set[str | None] = set()


def _are_kept() -> bool:
    key = sources_hash()
    folder = None if key is None else kernels_folder(key)
    return folder is not None and ready_mark(folder).is_file() and _compiler_loads()


@cache
def _compiler_loads() -> bool:
    try:
        import numba  # noqa: F401
    except ImportError:
        return False
    return True

"""Compiles the kernels and keeps them on disk, away from any that other sources made.

The compiler's own cache only looks at the file of the function that is called, not at the
files that it uses. A kernel left over from older sources could break the proof in silence, so
the folder is named by a hash over all sources of this package: any edit starts a new one.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba

from pathsim.clearance.cache_folder import kernels_folder

Function = TypeVar("Function", bound=Callable[..., Any])


@cache
def sources_hash() -> str:
    """Return a hash over the sources of all kernels and the compiler's version."""
    digest = hashlib.sha256(numba.__version__.encode())
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()[:16]


@contextlib.contextmanager
def _own_folder(folder: Path) -> Iterator[None]:
    """Let the compiler keep what it makes in ``folder`` for the moment."""
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = str(folder)
    try:
        yield
    finally:
        numba.config.CACHE_DIR = before


def kernel(function: Function) -> Function:
    """Compile ``function`` on its first call; without the interpreter's lock.

    Where nothing can be written it is compiled anew in every run: slower, the same results.
    ``fastmath`` stays off: the bounds rely on what the standard says about not-a-number.
    """
    folder = kernels_folder(sources_hash())
    if folder is None:
        return numba.njit(nogil=True, error_model="numpy")(function)  # type: ignore[no-any-return]
    with _own_folder(folder):
        return numba.njit(nogil=True, error_model="numpy", cache=True)(function)  # type: ignore[no-any-return]

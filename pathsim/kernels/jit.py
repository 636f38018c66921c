"""Compiles the kernels and keeps them on disk, away from any that other sources made."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

from pathsim.kernels.cache_folder import kernels_folder
from pathsim.kernels.sources import sources_hash

try:
    import numba

    from pathsim.kernels.compiler_start import load_without_matrix_library
    from pathsim.kernels.sealed import SealedCache

    load_without_matrix_library()
except ImportError:  # Where no compiler loads a kernel is the plain Python that it is written in
    numba = None

Function = TypeVar("Function", bound=Callable[..., Any])


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
    """Compile ``function``, which makes no arrays, on its first call.

    It does not count who uses the arrays that it is given (``_nrt``): in the search counting
    them up and down at every call was a third of all time. So they are valid only while the
    caller keeps them, and a kernel that tries to make one does not compile.
    """
    return _compiled(function, _nrt=False)


def kernel_inline(function: Function) -> Function:
    """As ``kernel``, but compiled into each place that calls it.

    For what is called often and handed records of arrays: a call copies them, field by field,
    and of the search those copies were a quarter. It makes its callers take longer to compile.
    """
    return _compiled(function, _nrt=False, forceinline=True)


def kernel_allocating(function: Function) -> Function:
    """Compile ``function``, which makes arrays, on its first call: for the outermost kernels."""
    return _compiled(function)


def _compiled(function: Function, **more: bool) -> Function:
    """Compile on the first call; without the interpreter's lock.

    Where nothing can be written it is compiled anew in every run: slower, the same results.
    ``fastmath`` stays off: the bounds rely on what the standard says about not-a-number.
    """
    if numba is None:
        return function
    options = {"nogil": True, "error_model": "numpy", **more}
    key = sources_hash()
    folder = None if key is None else kernels_folder(key)
    compiled = numba.njit(**options)(function)
    if folder is not None:
        # RuntimeError: the compiler found no place that it can write to, as on a full disk.
        with _own_folder(folder), contextlib.suppress(RuntimeError, OSError):
            cache = SealedCache(function)
            # It looks for other places when this one fails; those do not go by our sources.
            if Path(cache.cache_path).is_relative_to(folder):
                compiled._cache = cache
    return compiled  # type: ignore[no-any-return]

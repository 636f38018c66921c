"""Starting the compiler without what it would load beside itself and no kernel needs.

numba loads ``scipy`` to see its version, before it first compiles ``scipy.linalg`` to see whether
there is a BLAS, a reader of YAML for settings in the folder it stands in, and a reader of the
records of packages for extensions of its own. No kernel of ours uses a matrix library, and settings
and extensions from elsewhere are not ours to take: together they cost more than a fifth of a whole
check.
"""

from __future__ import annotations

import contextlib
import importlib
import importlib.util
import sys
import threading
from collections.abc import Iterator
from functools import cache
from types import ModuleType
from typing import Any

_COMPILER = "numba"
_LIBRARY, _SETTINGS = "scipy", "yaml"
_ASKS_FOR_IT = "numba.np.arraymath"
#: What reads records of packages: the compiler names it when it loads, and uses it later or never.
_RECORDS = "importlib.metadata"
#: Its note that there is one.
_NOTE = "_HAVE_BLAS"


class _NotNow:
    """Answers for libraries while the compiler looks for them in this thread: not there."""

    def __init__(self, *names: str) -> None:
        self._names, self._thread = names, threading.get_ident()

    def find_spec(self, name: str, *_: object) -> None:
        """Refuse the libraries' modules; others, and other threads', are found as ever."""
        if name.partition(".")[0] in self._names and threading.get_ident() == self._thread:
            raise ModuleNotFoundError(name)


@contextlib.contextmanager
def _without(*names: str) -> Iterator[None]:
    finder = _NotNow(*names)
    sys.meta_path.insert(0, finder)
    try:
        yield
    finally:
        sys.meta_path.remove(finder)


class _Later(ModuleType):
    """Stands for a module that is loaded when something of it is asked for."""

    def __getattr__(self, name: str) -> Any:
        """Return what the module has under a name."""
        if sys.modules.get(self.__name__) is self:
            del sys.modules[self.__name__]
        return getattr(importlib.import_module(self.__name__), name)


@contextlib.contextmanager
def _later(name: str) -> Iterator[None]:
    """Have whoever loads a module meanwhile get one that is loaded when it is used."""
    if name in sys.modules:
        yield
        return
    stand_in = sys.modules[name] = _Later(name)
    try:
        yield
    finally:
        if sys.modules.get(name) is stand_in:
            del sys.modules[name]


@cache
def is_installed() -> bool:
    """Tell whether there is a compiler to be tried; it is not loaded for that."""
    return _COMPILER in sys.modules or importlib.util.find_spec(_COMPILER) is not None


@cache
def loads() -> bool:
    """Load the compiler; tell whether it does load here."""
    with _without(_LIBRARY, _SETTINGS), _later(_RECORDS):
        try:
            importlib.import_module(_COMPILER)
        except ImportError:
            return False
    return True


def load_without_matrix_library() -> None:
    """Load, before anything is compiled, the part that asks for the library, and let it find none.

    Others in this process still have it: the compiler's note that there is a BLAS is put right
    afterwards, and where a function needs one it is loaded then.
    """
    if f"{_LIBRARY}.linalg" in sys.modules or _ASKS_FOR_IT in sys.modules:
        return
    with _without(_LIBRARY):
        part = importlib.import_module(_ASKS_FOR_IT)
    if hasattr(part, _NOTE):
        setattr(part, _NOTE, True)

"""The same kernels as plain Python: what answers until they are compiled, from one text.

Plain Python is slow on single numbers. A kernel that chooses nothing by a number (only by what
holds for all, as whether a joint slides) therefore takes columns of numbers as well, as one axis
more at the end of its arrays: numpy then does for all vectors at once what compiled code does
for one after the other. Such a kernel says so.
"""

from __future__ import annotations

from collections.abc import Callable
from types import FunctionType
from typing import Any, TypeVar

from pathsim.kernels.ready import are_ready

Function = TypeVar("Function", bound=Callable[..., Any])


def plain(kernel: Function) -> Function:
    """Return a kernel as plain Python, and so with it every kernel that it calls."""
    found: Function = _plain(kernel)
    return found


def as_it_runs(kernel: Function) -> Function:
    """Return a kernel as it runs now: compiled once kernels are ready, else as plain Python."""
    return kernel if are_ready() else plain(kernel)


def _plain(kernel: Any) -> Any:
    text = _text_of(kernel)
    return _names_of(text)[text.__name__]


def _text_of(kernel: Any) -> FunctionType:
    """Return what stands in the source; a kernel is that itself where no compiler loads."""
    text = getattr(kernel, "py_func", kernel)
    assert isinstance(text, FunctionType)  # noqa: S101
    return text


def _names_of(text: FunctionType) -> dict[str, Any]:
    """Return the names that a kernel's module knows, each kernel among them as plain Python."""
    module = text.__module__
    if module not in _made:
        names = _made[module] = dict(text.__globals__)
        for name, value in text.__globals__.items():
            if not hasattr(value, "py_func"):
                continue
            found = _text_of(value)
            names[name] = (
                FunctionType(found.__code__, names, found.__name__, found.__defaults__)
                if found.__module__ == module
                else _plain(value)
            )
    return _made[module]


_made: dict[str, dict[str, Any]] = {}

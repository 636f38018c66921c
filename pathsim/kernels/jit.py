"""Compiles the kernels and keeps them on disk, away from any that other sources made."""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from pathsim.kernels import compiler_start

if TYPE_CHECKING:
    from pathsim.kernels.sealed import SealedCache

Function = TypeVar("Function", bound=Callable[..., Any])
#: Held while the compiler's own object for a kernel is made, never while one is compiled.
_MAKING = threading.RLock()


class Kernel:
    """A kernel in the compiler's hands from its first call on, not before.

    The compiler takes a fifth of a second to load and a third of a millisecond for each kernel,
    of which there are 160; those that plain code calls are fifteen. Only they are kept on disk:
    what they call is compiled into them.
    """

    def __init__(self, function: Callable[..., Any], options: dict[str, Any]) -> None:
        functools.update_wrapper(self, function)
        self.py_func = function
        self._options = options
        self._compiled: Any = None
        self._run: Callable[..., Any] = self._first_run

    def __call__(self, *values: Any) -> Any:
        """Run it; the first call for a kind of arguments loads or compiles it."""
        return self._run(*values)

    def _first_run(self, *values: Any) -> Any:
        compiled = self._for_compiler()
        if compiled is None:
            self._run = self.py_func
        else:
            with _MAKING:
                if self._run == self._first_run:
                    _keep(self.py_func, compiled)
                    self._run = compiled
        return self._run(*values)

    def _for_compiler(self) -> Any:
        """Return the compiler's own object, the same one every time; None where none loads."""
        with _MAKING:
            if self._compiled is None and compiler_start.loads():
                import numba

                made = numba.njit(**self._options)(self.py_func)
                # Looking for extensions reads the records of every package; we use none.
                made._compilation_chain_init_hook = _nothing
                self._compiled = made
            return self._compiled

    @property
    def _numba_type_(self) -> Any:
        """What the compiler takes this for where another kernel calls it."""
        return self._for_compiler()._numba_type_

    def __getattr__(self, name: str) -> Any:
        """Return what the compiler knows of it, as ``signatures``."""
        if name.startswith("__"):
            raise AttributeError(name)
        return getattr(self._for_compiler(), name)


def _nothing() -> None:
    """Do nothing."""


def _keep(function: Callable[..., Any], compiled: Any) -> None:
    """Have a kernel kept on disk; what of it was compiled for other kernels before, too."""
    from pathsim.kernels.sealed import store_of

    store: SealedCache | None = store_of(function)
    if store is not None:
        for signature, made in list(compiled.overloads.items()):
            store.save_overload(signature, made)
        compiled._cache = store


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
    if not compiler_start.is_installed():
        return function
    options = {"nogil": True, "error_model": "numpy", **more}
    return Kernel(function, options)  # type: ignore[return-value]

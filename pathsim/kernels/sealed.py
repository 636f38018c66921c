"""Compiled code on disk, in files that carry a checksum: what is damaged is never run.

A changed bit in compiled code would be a wrong distance or a crash, and a file that was cut short
an error in the midst of a check. A file without a right checksum counts as not there.

What is kept is put back without waking the compiler: loading its tables of how to compile takes
longer than loading all kernels, and what was compiled needs none of them.
"""

from __future__ import annotations

import contextlib
import io
import pickle
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numba
from numba.core import environment
from numba.core.caching import CompileResultCacheImpl, FunctionCache, IndexDataCacheFile

from pathsim.kernels.cache_folder import kernels_folder
from pathsim.kernels.compiler_start import load_without_matrix_library
from pathsim.kernels.ready import SEAL, is_whole, sealed
from pathsim.kernels.sources import sources_hash
from pathsim.stopping import signals_held

#: Names of kernels that could not be kept, because nothing could be written.
NOT_KEPT: list[str] = []
#: Oldest and newest compiler whose inside is known to be as the light way of putting code back
#: takes it; any other puts back in its own way, which is slower and asks for nothing inside.
_KNOWN_FROM, _KNOWN_TO = (0, 60), (0, 68)


def is_known() -> bool:
    """Tell whether kept code can be put back in the light way with this compiler."""
    return _KNOWN_FROM <= tuple(numba.version_info.short) <= _KNOWN_TO


def store_of(function: Callable[..., Any]) -> SealedCache | None:
    """Return where a kernel is kept; None when nothing can be kept."""
    key = sources_hash()
    folder = None if key is None else kernels_folder(key)
    if folder is None:
        return None
    # RuntimeError: the compiler found no place that it can write to, as on a full disk.
    with _own_folder(folder), contextlib.suppress(RuntimeError, OSError):
        store = SealedCache(function)
        # It looks for other places when this one fails; those do not go by our sources.
        if Path(store.cache_path).is_relative_to(folder):
            return store
    return None


@contextlib.contextmanager
def _own_folder(folder: Path) -> Iterator[None]:
    """Let the compiler keep what it makes in ``folder`` for the moment."""
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = str(folder)
    try:
        yield
    finally:
        numba.config.CACHE_DIR = before


class _Code(CompileResultCacheImpl):  # type: ignore[misc]
    """A compiled kernel as it is kept, with the names that its code defines."""

    def reduce(self, made: Any) -> tuple[Any, ...]:
        """Return what is kept of a compiled kernel."""
        module = made.library._get_module_for_linking()
        both = (module.functions, module.global_variables)
        names = {one.name for part in both for one in part if not one.is_declaration}
        return (names, *super().reduce(made))

    def rebuild(self, target_context: Any, kept: tuple[Any, ...]) -> Any:
        """Return the compiled kernel."""
        from numba.core.compiler import CompileResult

        names, *rest = kept
        codegen = target_context.codegen()
        codegen.unserialize_library = lambda state: _library(codegen, state, names)
        try:
            return CompileResult._rebuild(target_context, *rest)
        finally:
            del codegen.unserialize_library


def _library(codegen: Any, state: Any, names: set[str]) -> Any:
    """Return kept code ready to run; its form for other kernels is read when one asks for it."""
    from llvmlite import binding as llvm

    name, _, (code, for_others) = state
    library = codegen.create_library(name)
    library.enable_object_caching()
    library._set_compiled_object(code)
    library._finalize_final_module()
    codegen._engine._defined_symbols |= names

    def to_link() -> Any:
        if library._shared_module is None:
            library._shared_module = llvm.parse_bitcode(for_others)
        return library._shared_module

    library._get_module_for_linking = to_link
    return library


def _kept_environment(module: str, constants: list[Any], name: str) -> Any:
    """Return what code refers to; a module of the compiler that is not loaded stays so.

    Compiled code reads the constants alone; names of modules are for code that is interpreted.
    """
    if module in sys.modules or not module.startswith("numba."):
        return environment._rebuild_env(module, constants, name)
    found = environment.lookup_environment(name)
    if found is None:
        found = environment.Environment({"__name__": module})
        found.consts[:] = constants
        found.env_name = name
        environment.Environment._memo[name] = found
    return found


class _Unpickler(pickle.Unpickler):
    """Reads what is kept, and loads no part of the compiler that only compiles."""

    def find_class(self, module: str, name: str) -> Any:
        """Return what a name in the file stands for."""
        if (module, name) == (environment.__name__, environment._rebuild_env.__name__):
            return _kept_environment
        return super().find_class(module, name)


class SealedCache(FunctionCache):  # type: ignore[misc]
    """The compiler's own store of one kernel, its files sealed."""

    _impl_class = _Code if is_known() else CompileResultCacheImpl
    _cache_file: Any

    def __init__(self, function: Any) -> None:
        super().__init__(function)
        index = self._cache_file
        name = index._index_name.removesuffix(".nbi")
        self._cache_file = _SealedFiles(self._cache_path, name, index._source_stamp)

    def load_overload(self, signature: Any, target_context: Any) -> Any:
        """Return a kept kernel; None, and what compiling needs is at hand, when there is none."""
        if not is_known():
            load_without_matrix_library()
            return super().load_overload(signature, target_context)
        _name_runtime()
        # The compiler asks for kept code from within itself: what a signal raised there would be
        # lost on its way out, and would end the process.
        with signals_held(), self._guard_against_spurious_io_errors():
            made = self._load_overload(signature, target_context)
            if made is not None:
                return made
        load_without_matrix_library()
        return None

    def save_overload(self, signature: Any, compiled: Any) -> None:
        """Keep a compiled kernel; one that cannot be kept runs all the same."""
        try:
            super().save_overload(signature, compiled)
        except OSError:
            NOT_KEPT.append(self._name)


def _name_runtime() -> None:
    """Tell the linker where what makes arrays stands, as the compiler does before it compiles."""
    from llvmlite import binding as llvm
    from numba.core.runtime import _nrt_python

    if not _named:
        for name, address in _nrt_python.c_helpers.items():
            llvm.add_symbol(name if name.startswith("_") else f"NRT_{name}", address)
        _named.append(True)


_named: list[bool] = []


class _SealedFiles(IndexDataCacheFile):  # type: ignore[misc]
    """Index and data of one kernel: what the compiler writes, with a checksum before it."""

    def _load_index(self) -> dict[Any, str]:
        raw = _contents(Path(self._index_path))
        if raw is None:
            return {}
        stream = io.BytesIO(raw)
        if pickle.load(stream) != numba.__version__:  # noqa: S301 - ours by its checksum
            return {}
        stamp, overloads = pickle.load(stream)  # noqa: S301
        return dict(overloads) if stamp == self._source_stamp else {}

    def _save_index(self, overloads: dict[Any, str]) -> None:
        version = pickle.dumps(numba.__version__)
        self._seal(self._index_path, version + self._dump((self._source_stamp, overloads)))

    def _load_data(self, name: str) -> Any:
        raw = _contents(Path(self._data_path(name)))
        if raw is None:
            raise OSError(f"{name} is damaged")  # taken as not there
        reader = _Unpickler if is_known() else pickle.Unpickler
        return reader(io.BytesIO(raw)).load()

    def _save_data(self, name: str, data: Any) -> None:
        self._seal(self._data_path(name), self._dump(data))

    def _seal(self, path: str, raw: bytes) -> None:
        with self._open_for_write(path) as stream:
            stream.write(sealed(raw))


def _contents(path: Path) -> bytes | None:
    """Return what stands behind the checksum; None when there is no file, or not a whole one."""
    with contextlib.suppress(OSError):
        raw = path.read_bytes()
        if is_whole(raw):
            return raw[SEAL:]
    return None

"""Compiled code on disk, in files that carry a checksum: what is damaged is never run.

A changed bit in compiled code would be a wrong distance or a crash, and a file that was cut short
an error in the midst of a check. A file without a right checksum counts as not there.
"""

from __future__ import annotations

import contextlib
import io
import pickle
from pathlib import Path
from typing import Any

import numba
from numba.core.caching import FunctionCache, IndexDataCacheFile

from pathsim.kernels.ready import SEAL, is_whole, sealed

#: Names of kernels that could not be kept, because nothing could be written.
NOT_KEPT: list[str] = []


class SealedCache(FunctionCache):  # type: ignore[misc]
    """The compiler's own store of one kernel, its files sealed."""

    _cache_file: Any

    def __init__(self, function: Any) -> None:
        super().__init__(function)
        index = self._cache_file
        name = index._index_name.removesuffix(".nbi")
        self._cache_file = _SealedFiles(self._cache_path, name, index._source_stamp)

    def save_overload(self, signature: Any, compiled: Any) -> None:
        """Keep a compiled kernel; one that cannot be kept runs all the same."""
        try:
            super().save_overload(signature, compiled)
        except OSError:
            NOT_KEPT.append(self._name)


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
        return pickle.loads(raw)  # noqa: S301

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

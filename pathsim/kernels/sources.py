"""A name for exactly these kernels, compiled by exactly this compiler.

The compiler's own cache only looks at the file of the function that is called, not at the
files that it uses. A kernel left over from older sources could break the proof in silence, so
the folder is named by a hash over all sources of the kernels: any edit starts a new one. Where
they lie and when they were written counts too, because the compiler goes by that.
"""

from __future__ import annotations

import hashlib
import importlib.util
from functools import cache
from pathlib import Path

#: All files with kernels in them, from the package's folder.
_WHERE = (
    "kernels/*.py",
    "arm/*_kernel.py",
    "motion/*_kernel.py",
    "geometry/*.py",
    "clearance/swept/*.py",
)


@cache
def sources_hash() -> str | None:
    """Return a hash over the kernels and the compiler; None where there is no compiler."""
    try:
        digest = hashlib.sha256(f"{_version('numba')} {_version('llvmlite')}".encode())
    except LookupError:
        return None
    package = Path(__file__).parent.parent
    for path in sorted(path for where in _WHERE for path in package.glob(where)):
        digest.update(f"{path} {path.stat().st_mtime_ns}".encode() + path.read_bytes())
    return digest.hexdigest()[:16]


def _version(package: str) -> str:
    """Return the version of a package as its folder of records says it; LookupError without it.

    What reads the records themselves reads letters and archives too: it takes a thirtieth of a
    whole check to load, and is asked only where no such folder stands beside the package.
    """
    found = importlib.util.find_spec(package)
    if found is None:
        raise LookupError(package)
    beside = Path(found.origin or __file__).parent.parent
    records = [one.stem for one in beside.glob(f"{package}-*.dist-info")]
    if len(records) == 1:
        return records[0].removeprefix(f"{package}-")
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version(package)
    except PackageNotFoundError as error:
        raise LookupError(package) from error

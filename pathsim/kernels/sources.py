"""A name for exactly these kernels, compiled by exactly this compiler.

The compiler's own cache only looks at the file of the function that is called, not at the
files that it uses. A kernel left over from older sources could break the proof in silence, so
the folder is named by a hash over all sources of the kernels: any edit starts a new one. Where
they lie and when they were written counts too, because the compiler goes by that.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import PackageNotFoundError, version
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
        digest = hashlib.sha256(f"{version('numba')} {version('llvmlite')}".encode())
    except PackageNotFoundError:
        return None
    package = Path(__file__).parent.parent
    for path in sorted(path for where in _WHERE for path in package.glob(where)):
        digest.update(f"{path} {path.stat().st_mtime_ns}".encode() + path.read_bytes())
    return digest.hexdigest()[:16]

"""Arrays as compiled kernels take them: one type, whatever comes."""

from __future__ import annotations

import numpy as np


def as_asked(values: np.ndarray, kind: type) -> np.ndarray:
    """Return an array that kernels take, in rows and writable; itself if it is like that.

    One that may not be written to, or that is cut out of another, would be another type to the
    compiler, and the kernel compiled anew for it.
    """
    flags = values.flags
    if flags.c_contiguous and flags.writeable and values.dtype == kind:
        return values
    return np.require(values, kind, ["C", "W"])

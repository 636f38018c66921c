"""Starting the compiler without the matrix library that it would load beside itself.

Before its first compiled function runs, numba loads ``scipy.linalg`` to see whether there is a
BLAS. No kernel of ours uses a matrix library, and that one drags in 160 modules and takes
a seventh of the time of a whole check.
"""

from __future__ import annotations

import importlib
import sys

_LIBRARY = "scipy"
_ASKS_FOR_IT = "numba.np.arraymath"
#: Its note that there is one.
_NOTE = "_HAVE_BLAS"


class _NotNow:
    """Answers for the library while the compiler looks for it: not there."""

    @staticmethod
    def find_spec(name: str, *_: object) -> None:
        """Refuse the library's modules; others are found as ever."""
        if name.partition(".")[0] == _LIBRARY:
            raise ModuleNotFoundError(name)


def load_without_matrix_library() -> None:
    """Load the part of the compiler that asks for the library, and let it find none.

    Others in this process still have it: the compiler's note that there is a BLAS is put right
    afterwards, and where a function needs one it is loaded then.
    """
    if f"{_LIBRARY}.linalg" in sys.modules or _ASKS_FOR_IT in sys.modules:
        return
    finder = _NotNow()
    sys.meta_path.insert(0, finder)
    try:
        part = importlib.import_module(_ASKS_FOR_IT)
    finally:
        sys.meta_path.remove(finder)
    if hasattr(part, _NOTE):
        setattr(part, _NOTE, True)

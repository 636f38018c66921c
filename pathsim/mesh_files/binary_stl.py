"""Binary STL, the format of nearly every mesh: read as the records that it is.

The library that reads the other formats takes longer to start than a whole check of such a cell.
"""

from __future__ import annotations

import numpy as np

from pathsim.errors import MeshError
from pathsim.transforms import Array, IntArray

#: Normal, three corners, two bytes that mean nothing; little-endian, behind 84 bytes of head.
_HEAD = 84
_TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def binary_stl(raw: bytes) -> tuple[Array, IntArray]:
    """Return vertices ``(3 m, 3)`` in the file's unit and faces ``(m, 3)``, no corner shared.

    ``raw`` has the length that its count asks for (``counts.is_binary_stl``). Normals are left
    out: the corners' order says as much. Raises MeshError for numbers that are not finite.
    """
    corners = np.frombuffer(raw, _TRIANGLE, offset=_HEAD)["corners"]
    vertices = corners.astype(np.float64).reshape(-1, 3)
    if not np.isfinite(vertices).all():
        raise MeshError("it has vertices that are not finite numbers")
    return vertices, np.arange(len(vertices), dtype=np.int64).reshape(-1, 3)

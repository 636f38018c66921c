"""How a shape stands on its place."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from pathsim.errors import MeshError
from pathsim.geometry.mesh import Mesh


class From(StrEnum):
    """What of a shape its place is measured to."""

    MIDDLE = "middle"
    CORNER = "corner"


def stood(mesh: Mesh, measured_from: From = From.MIDDLE) -> Mesh:
    """Return the mesh on z = 0, with the middle of its foot, or its least x and y, at 0."""
    low, high = mesh.bounds
    middle = (low + high) / 2
    at = middle if measured_from is From.MIDDLE else low
    return Mesh(mesh.vertices - np.array([at[0], at[1], low[2]]), mesh.faces)


def millimetres(value: float) -> str:
    """Write a length as a person gave it."""
    return f"{value * 1e3:g} mm"


def require_sizes(what: str, **sizes: float) -> None:
    """Require that sizes are above zero and finite; raises MeshError."""
    for name, value in sizes.items():
        if not (np.isfinite(value) and value > 0):
            shown = name.replace("_", " ")
            raise MeshError(f"{what} with {shown} {millimetres(value)}; expected more than 0")


def require_less(what: str, name: str, value: float, most: float, why: str) -> None:
    """Require that a size is below what is left for it; raises MeshError."""
    if not value < most:
        rule = f"less than {millimetres(most)}, {why}"
        raise MeshError(f"{what} with {name} {millimetres(value)}; expected {rule}")

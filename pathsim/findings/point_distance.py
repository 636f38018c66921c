"""How far a point is from the surface of a mesh."""

from __future__ import annotations

import numpy as np

from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.model import Mesh
from pathsim.transforms import Array

_SPECK = 1e-7  # m


def surface_distance(shape: Shape, place: Array) -> float:
    """Distance of ``place (3,)`` from a surface, m, inside or outside; right to a tenth of 1 um."""
    speck = Mesh(place + _SPECK * np.eye(3), np.array([[0, 1, 2]]))
    return shape.distance(Shape(speck))[0]

"""Blocks and rounds: tables, plates, walls, posts."""

from __future__ import annotations

from pathsim.geometry import solids
from pathsim.geometry.mesh import Mesh
from pathsim.shapes.outline import circle, drawn_out, sides
from pathsim.shapes.standing import require_sizes, stood


def box(length: float, width: float, height: float) -> Mesh:
    """Block of ``length`` along x, ``width`` along y and ``height``, m; exact."""
    require_sizes("a block", length=length, width=width, height=height)
    return stood(solids.box([length, width, height]))


def block_at(size: tuple[float, float, float], low: tuple[float, float, float]) -> Mesh:
    """Block of ``size`` whose corner of least x, y and z is ``low``, m."""
    corners = solids.box(size)
    return Mesh(corners.vertices - corners.bounds[0] + low, corners.faces)


def cylinder(diameter: float, length: float) -> Mesh:
    """Round bar that stands: outside its circle by at most 0.1 mm up to a diameter of 180 mm."""
    require_sizes("a cylinder", diameter=diameter, length=length)
    return drawn_out(circle(diameter / 2, sides(diameter / 2), outside=True), length)

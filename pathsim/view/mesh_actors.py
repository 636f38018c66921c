"""Actors of one mesh: its faces, its sharp edges or its outline, the room round a cable."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

import numpy as np

from pathsim.scene.palette import GREYS, INK, QUIET
from pathsim.scene.records import SceneMesh
from pathsim.view.drawable import (
    grown,
    is_drawn,
    is_solid,
    polydata,
    rgb,
    sharp_edges,
    with_normals,
)
from pathsim.view.plotter import Plotter

#: The outline of the arm: its mesh grown by so much, seen from inside, m.
_OUTLINE = {"arm": 0.0022, "torch": 0.0009, "cable": 0.0009}
#: Room that a cable's slack gives it.
_GLASS = 0.26
#: Shares of ambient and diffuse light of solid things and of glass.
_LIGHT, _GLASS_LIGHT = (0.38, 0.62), (0.6, 0.4)

MeshKey = tuple[object, ...]


@dataclass(frozen=True, eq=False)
class MeshActors:
    """Actors of a mesh with how opaque they are as a rule, and those that have its own colour."""

    actors: list[tuple[Any, float]]
    coloured: list[Any]


def mesh_key(mesh: SceneMesh) -> MeshKey:
    """Return all that decides how a mesh is drawn."""
    core = None if mesh.core is None else mesh_key(mesh.core)
    shape = hashlib.blake2b(np.ascontiguousarray(mesh.vertices).tobytes(), digest_size=16)
    shape.update(np.ascontiguousarray(mesh.faces).tobytes())
    return (mesh.name, mesh.grey, mesh.link, shape.digest(), core)


def mesh_actors(plotter: Plotter, mesh: SceneMesh) -> MeshActors:
    """Draw a mesh where it stands in its own frame."""
    if mesh.core is not None:
        core = mesh_actors(plotter, mesh.core)
        return MeshActors([(_glass(plotter, mesh), _GLASS), *core.actors], core.coloured)
    data = polydata(mesh)
    # Most of a picture's time without a graphics card goes into walls that nobody sees.
    culled = "back" if is_solid(mesh, data) else ""
    smooth = with_normals(data, is_split=True)
    actor = plotter.add(smooth, rgb(GREYS[mesh.grey]), light=_LIGHT, culled=culled)
    actors = [actor]
    if mesh.link is None:
        edges = sharp_edges(data)
        if is_drawn(edges):
            actors.append(plotter.add(edges, rgb(QUIET)))
    else:
        actors.append(_outline(plotter, data, _OUTLINE.get(mesh.grey, _OUTLINE["torch"])))
    return MeshActors([(each, 1.0) for each in actors], [actor])


def _glass(plotter: Plotter, mesh: SceneMesh) -> Any:
    """Room that a cable may take: seen through, without an outline."""
    smooth = with_normals(polydata(mesh), is_split=False)
    return plotter.add(
        smooth, rgb(GREYS[mesh.grey]), opacity=_GLASS, light=_GLASS_LIGHT, culled="back"
    )


def _outline(plotter: Plotter, data: Any, grow: float) -> Any:
    """Ink silhouette: the mesh grown along its normals, of which only the inside is drawn."""
    return plotter.add(grown(data, grow), rgb(INK), culled="front")

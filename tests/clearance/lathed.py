"""Lathed bodies, and points on surfaces, for tests of joints."""

import numpy as np
import trimesh

from pathsim.model import Mesh


def lathed(radius, low, high, sides=60):
    shape = trimesh.creation.cylinder(radius, high - low, sections=sides)
    return Mesh(shape.vertices + [0, 0, (low + high) / 2], shape.faces)


def both(*meshes):
    faces, vertices, count = [], [], 0
    for mesh in meshes:
        vertices.append(mesh.vertices)
        faces.append(mesh.faces + count)
        count += len(mesh.vertices)
    return Mesh(np.concatenate(vertices), np.concatenate(faces))


def held_by(zone, points):
    """Which points ``(..., 3)`` a zone holds, from its plain words."""
    layer = np.floor((points[..., 2] - zone.low) / zone.step).astype(int)
    exists = (layer >= 0) & (layer < len(zone.radii))
    radius = np.array(zone.radii)[np.clip(layer, 0, len(zone.radii) - 1)]
    return exists & (np.hypot(points[..., 0], points[..., 1]) <= radius) & (radius > 0)


def sampled(mesh, count=4000, seed=1):
    shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    return trimesh.sample.sample_surface(shape, count, seed=seed)[0]

"""Dense sampling with python-fcl: slow, simple, independent of the engine's bounds."""

from __future__ import annotations

import fcl
import numpy as np


def dense_distances(cell, track, piece, standing, window, count):
    """Distances ``(count,)`` and times at evenly spaced moments, straight from python-fcl."""
    moving, still = _object(piece.mesh), _object(standing.mesh)
    times = np.linspace(*window, count)
    q = np.stack([np.interp(times, track.t, track.q[:, j]) for j in range(track.q.shape[1])], 1)
    poses = cell.T_world_base @ cell.arm.link_poses(q)[:, piece.link]
    values = np.empty(count)
    for k, T in enumerate(poses):
        moving.setTransform(fcl.Transform(T[:3, :3], T[:3, 3]))
        values[k] = max(fcl.distance(moving, still), 0.0)
    return times, values


def _object(mesh):
    model = fcl.BVHModel()
    model.beginModel(len(mesh.vertices), len(mesh.faces))
    model.addSubModel(mesh.vertices, mesh.faces)
    model.endModel()
    return fcl.CollisionObject(model, fcl.Transform())

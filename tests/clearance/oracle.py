"""Dense sampling with python-fcl: slow, simple, independent of the engine's bounds.

Both things are placed in the world one by one; no relative chain as in the engine.
"""

from __future__ import annotations

from functools import lru_cache

import fcl
import numpy as np


def dense_distances(cell, track, piece, standing, window, count):
    """Distances ``(count,)`` and times at evenly spaced moments, straight from python-fcl."""
    moving, still = _object(piece.mesh), _object(standing.mesh)
    times = np.linspace(*window, count)
    q = np.stack([np.interp(times, track.t, track.q[:, j]) for j in range(track.q.shape[1])], 1)
    dof = cell.arm.dof
    tilted = turned = [np.eye(4)] * count
    if cell.table is not None and cell.table.tilt is not None:
        tilted = turned = [_turned(cell.table.tilt.T_world_axis, angle) for angle in q[:, dof]]
    if cell.table is not None:
        own = [_turned(cell.table.T_world_axis, angle) for angle in q[:, -1]]
        turned = [below @ turn for below, turn in zip(tilted, own, strict=True)]
    values = np.empty(count)
    for k in range(count):
        T = tilted[k] if piece.body is not None and piece.body.on_tilt else turned[k]
        if piece.link <= dof:
            T = cell.T_world_base @ cell.arm.link_poses(q[k, :dof])[piece.link]
        moving.setTransform(fcl.Transform(T[:3, :3], T[:3, 3]))
        if standing.on_tilt:
            still.setTransform(fcl.Transform(tilted[k][:3, :3], tilted[k][:3, 3]))
        if standing.on_table:
            still.setTransform(fcl.Transform(turned[k][:3, :3], turned[k][:3, 3]))
        values[k] = max(fcl.distance(moving, still), 0.0)
    return times, values


def _turned(T_axis, angle):
    c, s = np.cos(angle), np.sin(angle)
    turn = np.array([[c, -s, 0, 0], [s, c, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]])
    return T_axis @ turn @ np.linalg.inv(T_axis)


def _object(mesh):
    return fcl.CollisionObject(_model(mesh), fcl.Transform())


@lru_cache(maxsize=64)
def _model(mesh):
    model = fcl.BVHModel()
    model.beginModel(len(mesh.vertices), len(mesh.faces))
    model.addSubModel(mesh.vertices, mesh.faces)
    model.endModel()
    return model

"""Cameras fitted to the data: at the seam, the whole cell, from above, along the seam; at a gap."""

from __future__ import annotations

import numpy as np

from pathsim.model import Cell
from pathsim.motion import MoveTrack, Trajectory
from pathsim.scene.camera_fit import Camera, fitted
from pathsim.scene.records import PathLine, SceneMesh
from pathsim.scene.sight import blocked, near_ray, placed
from pathsim.transforms import Array

ANGLE = np.radians(28.0)
#: Narrowest picture that the fitted cameras are made for, width to height.
ASPECT = 1.4
_UP = np.array([0.0, 0.0, 1.0])
_ROOM = 1.12  # a little air round what must be seen
_GAP_RADIUS = 0.13  # m round a gap


def distance_for(radius: float) -> float:
    """How far the eye must be for a ball of ``radius`` m to fit the picture's height."""
    return float(radius * _ROOM / np.sin(ANGLE / 2))


def towards(name: str, focus: Array, radius: float, direction: Array) -> Camera:
    """Camera that looks at ``focus`` from ``direction`` so that a ball of ``radius`` fits."""
    unit = np.asarray(direction, float) / np.linalg.norm(direction)
    up = _UP if abs(unit[2]) < 0.98 else np.array([1.0, 0.0, 0.0])
    return Camera(name, focus + unit * distance_for(radius), focus, up, ANGLE)


def general_cameras(
    cell: Cell,
    trajectory: Trajectory,
    paths: tuple[PathLine, ...],
    meshes: tuple[SceneMesh, ...],
    poses: Array,
) -> tuple[Camera, ...]:
    """Return the four cameras, in the order of their keys 1 to 4.

    ``poses (n, dof + 1, 4, 4)``: the arm at some moments of the program.
    """
    seam_points = _seam_points(trajectory, paths)
    focus = (seam_points.min(axis=0) + seam_points.max(axis=0)) / 2
    radius = max(float(np.linalg.norm(seam_points - focus, axis=1).max()) + 0.06, 0.12)
    tangent = seam_points[-1] - seam_points[0]
    if np.linalg.norm(tangent) < 1e-6:
        tangent = np.array([0.0, 1.0, 0.0])
    away = focus - cell.T_world_base[:3, 3]
    away[2] = 0
    away = away / max(float(np.linalg.norm(away)), 1e-9)
    side = np.cross(_UP, away)
    middle = poses[len(poses) // 2]
    seam, _ = open_side("at the seam", focus, radius, None, meshes, middle)
    corners = _everything(meshes, poses)
    flat = np.array([tangent[0], tangent[1], 0.0])
    flat = flat / max(float(np.linalg.norm(flat)), 1e-9)
    return (
        seam,
        fitted("whole cell", corners, 0.55 * away - side + 0.55 * _UP, _UP, ASPECT, ANGLE),
        fitted(
            "from above", corners, _UP, side, ASPECT, ANGLE
        ),  # the arm at the left, reaching to the right
        towards("along the seam", focus, radius * 1.3, -flat + 0.30 * _UP),
    )


#: How much the piece itself counts that stands before its own gap.
_OWN_WEIGHT = 0.7


def open_side(
    name: str,
    focus: Array,
    radius: float,
    gap: Array | None,
    meshes: tuple[SceneMesh, ...],
    T_world_link: Array,
    piece: str | None = None,
) -> tuple[Camera, tuple[str, ...]]:
    """Camera from the side with the least in between, and the names of what still is.

    ``gap (3,)``: direction of the gap to look across, None when there is none. ``piece``: what
    comes near there; before its own gap it hides less than a wall does before both.
    """
    directions = _hemisphere()
    eyes = focus + directions * distance_for(radius)
    hits: dict[str, np.ndarray] = {}
    for mesh in meshes:
        triangles = placed(mesh, T_world_link)
        if near_ray(triangles, focus, eyes):
            hits[mesh.name] = blocked(focus, directions, triangles)
    count = np.zeros(len(directions))
    for thing, hit in hits.items():
        count += hit * (_OWN_WEIGHT if thing == piece else 1.0)
    askew = np.zeros(len(directions))
    if gap is not None and np.linalg.norm(gap) > 1e-9:
        askew = np.abs(directions @ (gap / np.linalg.norm(gap)))
    # A thing in between weighs more than looking along the gap; a low look reads best.
    score = count + 1.5 * askew**2 + 0.6 * np.abs(directions[:, 2] - 0.42)
    best = int(np.argmin(score))
    hides = tuple(name for name, hit in hits.items() if hit[best])
    return towards(name, focus, radius, directions[best]), hides


def gap_radius(gap_length: float) -> float:
    """Radius of what to show round a gap, m."""
    return max(_GAP_RADIUS, 2.0 * gap_length)


def _hemisphere() -> Array:
    """Directions ``(m, 3)`` from which a person might look, all round and from 8 to 60 degrees."""
    around = np.radians(np.arange(0, 360, 15))
    rows = [
        [np.cos(a) * np.cos(e), np.sin(a) * np.cos(e), np.sin(e)]
        for e in np.radians([8, 20, 32, 45, 60])
        for a in around
    ]
    return np.array(rows)


def _seam_points(trajectory: Trajectory, paths: tuple[PathLine, ...]) -> Array:
    """Tip places on the seams; on the whole path when there is none."""
    by_number = {path.move: path.points for path in paths}
    seams: list[MoveTrack] = [track for track in trajectory.tracks if track.move.arc_on]
    chosen = [by_number[track.number] for track in seams] or list(by_number.values())
    return np.concatenate(chosen)


def _everything(meshes: tuple[SceneMesh, ...], poses: Array) -> Array:
    """Corner points ``(m, 3)`` of all meshes, moving ones at all given moments."""
    points = []
    for mesh in meshes:
        low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
        picks = np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, -1).T
        corners = np.where(picks == 0, low, high)
        if mesh.link is None:
            points.append(corners)
        else:
            T = poses[:, mesh.link]
            moved = corners @ np.swapaxes(T[:, :3, :3], 1, 2) + T[:, None, :3, 3]
            points.append(moved.reshape(-1, 3))
    return np.concatenate(points)

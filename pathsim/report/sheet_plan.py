"""The small plan of a first-run sheet: the cell from above, and what left and front mean there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from pathsim.check import CheckResult
from pathsim.model import Body
from pathsim.model.piece import Piece
from pathsim.report.plan_records import Places, Plan
from pathsim.report.sheet_records import Shown
from pathsim.transforms import Array

#: Greys of what stands in a cell, 0 black to 1 white; light things are drawn first.
_GREYS = {"table": 0.93, "other": 0.86, "part": 0.72, "clamp": 0.45}
_USUAL_GREY = 0.86
#: Room round what must be seen, of its size, and the least size, m.
_AIR, _LEAST = 0.12, 0.8
#: Words stand at the sides: so many times as wide.
_WORDS = 1.6
#: Height to width of a plan, at least and at most.
_FLATTEST, _TALLEST = 0.45, 0.75


def plan_of(result: CheckResult, shown: Sequence[Shown]) -> Plan:
    """Return the plan of a checked cell, as it stands at the start; sides are the arm's own."""
    cell = result.cell
    T = cell.T_base_world
    q = result.trajectory.tracks[0].q[:1]
    poses = cell.link_poses(q)[0]
    seams = [
        _flat(T, cell.tips(track.q)) for track in result.trajectory.tracks if track.move.arc_on
    ]
    tips = [_flat(T, cell.tips(track.q)) for track in result.trajectory.tracks]
    carried = {piece.name: piece for piece in cell.pieces if piece.body is not None}
    outlines = [(_outline(T, body, poses, carried.get(body.name)), body) for body in cell.bodies]
    base = cell.link_meshes[0]
    size = 0.12 if base is None else float(np.abs(base.vertices[:, :2]).max())
    near = [places for places, body in outlines if str(body.role) in ("part", "clamp")]
    corners = np.concatenate([*tips, *near, [[-size, -size], [size, size]]])
    low, high = _window(corners)
    width = float(high[0] - low[0])

    def scaled(places: Array) -> Places:
        return tuple((float(x), float(y)) for x, y in (np.asarray(places) - low) / width)

    areas = [
        (scaled(clipped), _GREYS.get(str(body.role), _USUAL_GREY))
        for places, body in outlines
        if len(clipped := _clipped(places, low, high)) > 2
    ]
    marks = []
    for number, one in enumerate(shown, start=1):
        assert one.finding.move is not None and one.finding.time is not None  # noqa: S101
        track = result.trajectory.tracks[one.finding.move - 1]
        tip = _flat(T, cell.tips(track.q_at(one.finding.time)))
        marks.append((str(number), scaled(tip)[0]))
    return Plan(
        float(high[1] - low[1]) / width,
        tuple(sorted(areas, key=lambda area: -area[1])),
        tuple(map(scaled, seams)),
        (scaled(np.zeros((1, 2)))[0], size / width),
        tuple(marks),
        width,
    )


def _flat(T_base_world: Array, places: Array) -> Array:
    """Places ``(n, 3)`` of the world from above, ``(n, 2)`` in the arm's base."""
    return np.asarray(places @ T_base_world[:3, :3].T + T_base_world[:3, 3])[:, :2]


def _outline(T_base_world: Array, body: Body, poses: Array, piece: Piece | None) -> Array:
    """Convex outline of a body from above; one that a table carries as it is at the start."""
    T, mesh = (body.T_world_body, body.mesh) if piece is None else (poses[piece.link], piece.mesh)
    places = mesh.vertices @ T[:3, :3].T + T[:3, 3]
    return convex(_flat(T_base_world, places))


def convex(places: Array) -> Array:
    """Return the convex outline of places ``(n, 2)``, anticlockwise (Andrew's monotone chain)."""
    ordered = np.unique(np.round(places, 6), axis=0)
    if len(ordered) < 3:
        return ordered
    halves = [_half(ordered), _half(ordered[::-1])]
    return np.array([*halves[0][:-1], *halves[1][:-1]])


def _half(places: Iterable[Array]) -> list[Array]:
    chain: list[Array] = []
    for place in places:
        while len(chain) > 1 and _turn(chain[-2], chain[-1], place) <= 0:
            chain.pop()
        chain.append(place)
    return chain


def _turn(a: Array, b: Array, c: Array) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _window(places: Array) -> tuple[Array, Array]:
    """Corners of a window round places, with air, neither too flat nor too tall."""
    low, high = places.min(axis=0), places.max(axis=0)
    middle, size = (low + high) / 2, np.maximum((high - low) * (1 + 2 * _AIR), _LEAST * 0.5)
    size[0] = max(_WORDS * size[0], size[1] / _TALLEST, _LEAST)
    size[1] = max(size[1], _FLATTEST * size[0])
    return middle - size / 2, middle + size / 2


def _clipped(places: Array, low: Array, high: Array) -> Array:
    """Return what of a convex outline is inside a window (Sutherland and Hodgman)."""
    inside = places
    for axis in (0, 1):
        for sign, bound in ((1.0, low[axis]), (-1.0, -high[axis])):
            kept: list[Array] = []
            for a, b in zip(inside, np.roll(inside, -1, axis=0), strict=True):
                da, db = sign * a[axis] - bound, sign * b[axis] - bound
                if da >= 0:
                    kept.append(a)
                if da * db < 0:
                    kept.append(a + (b - a) * da / (da - db))
            inside = np.array(kept).reshape(-1, 2)
            if not len(inside):
                return inside
    return inside

"""Cells for the benchmark of the whole check, made from a sample cell by seeded numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import trimesh

from pathsim.model import Body, Cable, Cell, Mesh, Move, MoveKind, Point, Program, Role
from pathsim.motion import plan_program
from pathsim.transforms import frozen, translation
from tests.benchmarks.clearance_scenes import SIDES, eight_moves, finer, five_moves, random_moves

#: A seam of the benchmark is at least this share of the taught one.
_SHORTEST_SEAM = 0.15
#: Side of triangles of which bodies have about three million, m.
_FINEST_SIDE = 0.0081


def contacts(moves: int = 40) -> Cell:
    """Random moves about the taught points: the arm goes through table and clamps."""
    return random_moves(five_moves(), moves, 11)


def with_bodies(cell: Cell, count: int, seed: int = 12) -> Cell:
    """The cell with boxes stood round the arm until it has ``count`` bodies."""
    rng = np.random.default_rng(seed)
    bodies = list(cell.bodies[:count])
    while len(bodies) < count:
        angle, away = rng.uniform(-np.pi, np.pi), rng.uniform(0.6, 2.2)
        at = [away * np.cos(angle), away * np.sin(angle), rng.uniform(0.1, 1.6)]
        shape = trimesh.creation.box(rng.uniform(0.05, 0.3, 3))
        mesh = Mesh(shape.vertices, shape.faces)
        name = f"box {len(bodies)}"
        bodies.append(Body(name, Role.OTHER, mesh, frozen(translation(at)), False, None))
    return replace(cell, bodies=tuple(bodies))


def many_bodies(moves: int = 300, bodies: int = 60) -> Cell:
    """Random moves among many bodies, some of which they touch."""
    return with_bodies(random_moves(five_moves(), moves, 13), bodies)


def large_meshes(side: float) -> Cell:
    """Eight moves, one a woven seam, among bodies of fine triangles."""
    return finer(eight_moves(), side)


def many_seams(seams: int = 37, bodies: int = 62, seed: int = 14) -> Cell:
    """Woven seams on pieces of the taught one, each with the moves to it and away: 8 a seam."""
    cell, rng = five_moves(), np.random.default_rng(seed)
    tracks = plan_program(cell).tracks
    weld = replace(cell.program.moves[2].weave)
    way = tracks[2]
    plain = plan_program(
        replace(
            cell,
            program=replace(
                cell.program,
                moves=tuple(replace(move, weave=None) for move in cell.program.moves),
            ),
        )
    ).tracks[2]
    span = plain.travel_seconds
    approach, retract = cell.points["approach"].q, cell.points["retract"].q
    on, off = cell.points["weld start"].q, cell.points["weld end"].q
    points, moves = dict(cell.points), []

    def teach(name, q):
        points[name] = Point(name, np.array(q), None)
        return name

    for k in range(seams):
        first, last = np.sort(rng.uniform(0.0, 1.0, 2))
        if last - first < _SHORTEST_SEAM:
            first, last = (first, first + _SHORTEST_SEAM) if first < 0.5 else (
                last - _SHORTEST_SEAM, last)  # fmt: skip
        start, end = (plain.q_at(plain.t[0] + share * span)[0] for share in (first, last))
        air = [approach + rng.normal(0.0, 0.02, 6) + [0, -0.05, 0, 0, 0, 0] for _ in range(4)]
        moves += [
            Move(MoveKind.JOINT, teach(f"air {k} a", air[0]), 0.4),
            Move(MoveKind.JOINT, teach(f"air {k} b", air[1]), 0.4),
            Move(MoveKind.JOINT, teach(f"over {k}", start + approach - on), 0.4),
            Move(MoveKind.LINEAR, teach(f"start {k}", start), 0.06),
            Move(MoveKind.LINEAR, teach(f"end {k}", end), 0.02, arc_on=True, weave=weld),
            Move(MoveKind.LINEAR, teach(f"up {k}", end + retract - off), 0.12),
            Move(MoveKind.JOINT, teach(f"air {k} c", air[2]), 0.4),
            Move(MoveKind.JOINT, teach(f"air {k} d", air[3]), 0.4),
        ]
    assert way.move.arc_on  # the sample's third move is its seam
    cell = replace(cell, points=points, program=Program("home", tuple(moves)))
    return with_bodies(cell, bodies)


def many_cables(cables: int = 64, seed: int = 15) -> Cell:
    """Eight moves with cables along the arm's upper links."""
    cell, rng = eight_moves(), np.random.default_rng(seed)
    found = []
    for k in range(cables):
        link = int(rng.integers(2, 7))
        low, high = cell.link_meshes[link].bounds
        middle, half = (low + high) / 2, (high - low) / 2
        points = middle + rng.uniform(-1.05, 1.05, (4, 3)) * half
        found.append(Cable(f"cable {k}", link, points, 0.004, slack=0.004, margin=0.002))
    return replace(cell, cables=tuple(found))


def long_weave(seconds: float = 600.0) -> Cell:
    """Eight moves whose woven seam is welded so slowly that the arc burns this long."""
    cell = eight_moves()
    moves = list(cell.program.moves)
    (k,) = (k for k, move in enumerate(moves) if move.arc_on)
    burnt = plan_program(cell).tracks[k].travel_seconds
    moves[k] = replace(moves[k], speed=moves[k].speed * burnt / seconds)
    return replace(cell, program=replace(cell.program, moves=tuple(moves)))


#: Cells by name; each is made when it is asked for.
CASES: dict[str, Callable[[], Cell]] = {
    "gate hinge": five_moves,
    "contacts, 40 moves": contacts,
    "8 moves, 192k": lambda: large_meshes(SIDES["200k"]),
    "8 moves, 900k": lambda: large_meshes(SIDES["900k"]),
    "8 moves, 3M": lambda: large_meshes(_FINEST_SIDE),
    "600 s of weave": long_weave,
    "64 cables": many_cables,
    "37 seams, 62 bodies": many_seams,
    "300 moves, 60 bodies": many_bodies,
}

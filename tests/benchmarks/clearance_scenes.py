"""Cells and programs for the clearance benchmark, made from a sample cell."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import trimesh

from pathsim.clearance.joint_pairs import own_pairs
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.files import load_cell
from pathsim.model import Cell, Mesh, Move, MoveKind, Point, Program

SAMPLES = Path(__file__).parents[2] / "sample_cells"
#: Longest side of a triangle, m, that brings the cell's bodies to about so many triangles.
SIDES = {"20k": 0.15, "200k": 0.033, "900k": 0.0142}


def eight_moves() -> Cell:
    """The gate hinge with a program of eight moves, one a woven seam."""
    cell = load_cell(SAMPLES / "gate_hinge")
    first = list(cell.program.moves)
    air = [first[0], replace(first[1], line=None), first[3]]
    return replace(cell, program=replace(cell.program, moves=(*first[:4], *air, first[4])))


def eight_moves_of_own_points() -> Cell:
    """The same eight moves; where one goes to a place again, that is a point of its own."""
    cell = eight_moves()
    points, moves, seen = dict(cell.points), [], set()
    for move in cell.program.moves:
        if move.target in seen:
            again = f"{move.target} again"
            points[again] = replace(cell.points[move.target], name=again)
            moves.append(replace(move, target=again))
        else:
            moves.append(move)
        seen.add(move.target)
    return replace(cell, points=points, program=replace(cell.program, moves=tuple(moves)))


def five_moves() -> Cell:
    """The gate hinge as it is."""
    return load_cell(SAMPLES / "gate_hinge")


def finer(cell: Cell, side: float) -> Cell:
    """The same cell with the triangles of its bodies cut until no side is longer."""
    bodies = []
    for body in cell.bodies:
        vertices, faces = trimesh.remesh.subdivide_to_size(
            body.mesh.vertices, body.mesh.faces, side, max_iter=30
        )
        bodies.append(replace(body, mesh=Mesh(vertices, faces)))
    return replace(cell, bodies=tuple(bodies))


def triangles(cell: Cell) -> int:
    return sum(len(body.mesh.faces) for body in cell.bodies)


def many_moves(cell: Cell, rounds: int = 15) -> Cell:
    """The program of eight moves over and over: 120 moves."""
    moves = cell.program.moves * rounds
    return replace(cell, program=replace(cell.program, moves=moves))


def random_moves(cell: Cell, count: int, seed: int) -> Cell:
    """Joint moves between random places about the taught ones; nothing was tuned on them."""
    rng = np.random.default_rng(seed)
    taught = [point.q for point in cell.points.values() if point.q is not None]
    taught = taught or [cell.axes.middle]
    points = {}
    for k in range(count + 1):
        spread = rng.normal(0.0, 0.25, cell.axes.count)
        q = np.clip(taught[k % len(taught)] + spread, cell.axes.lower, cell.axes.upper)
        points[f"random {k}"] = Point(f"random {k}", q, None)
    moves = tuple(Move(MoveKind.JOINT, f"random {k + 1}", speed=0.4) for k in range(count))
    return replace(cell, points=points, program=Program("random 0", moves))


def with_point_moved(cell: Cell, by: float) -> Cell:
    """The same cell with one air point taught otherwise, by so much in its first joint."""
    name = cell.program.moves[3].target
    point = cell.points[name]
    q = np.array(point.q)
    q[0] += by
    moved = replace(point, q=q, T_base_tcp=None)
    return replace(cell, points={**cell.points, name: moved})


def scene_questions(cell, trajectory):
    """Everything that moves against everything that stands; the arm itself stands apart."""
    return queries_of(cell, trajectory, obstacles(cell), ()).queries


def own_questions(cell, trajectory):
    return queries_of(cell, trajectory, (), own_pairs(cell)).queries

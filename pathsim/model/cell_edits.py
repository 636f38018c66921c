"""Cells made from cells: each is checked anew, and the old one stays what it is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.postures import Posture, read_posture
from pathsim.errors import CellError
from pathsim.geometry.mesh import Mesh
from pathsim.model import sound
from pathsim.model.program import Program
from pathsim.model.run import subprograms_of
from pathsim.model.scenery import Body, Point
from pathsim.transforms import Array, inverse

if TYPE_CHECKING:
    from pathsim.model.cell import Cell


def pose_in_base(
    cell: Cell, name: str, T_base_tcp: ArrayLike | None, T_world_tcp: ArrayLike | None
) -> Array | None:
    """Return the one pose of a point that is given, in the arm's base."""
    of = f"point {sound.shown(name)}"
    if T_base_tcp is not None and T_world_tcp is not None:
        raise CellError(f"{of}: came T_base_tcp and T_world_tcp; expected one of them")
    if T_world_tcp is not None:
        T = sound.pose(f"{of}: T_world_tcp", np.asarray(T_world_tcp))
        return np.asarray(inverse(cell.T_world_base) @ T)
    return None if T_base_tcp is None else np.asarray(T_base_tcp)


def with_point(
    cell: Cell,
    name: str,
    q: ArrayLike | None,
    T_base_tcp: Array | None,
    held: ArrayLike | None,
    posture: Posture | str,
    about: tuple[tuple[int, float], ...],
) -> Cell:
    """Return a cell with a point taught anew (``Cell.with_point``)."""
    _require_taught(cell, "with_point", name)
    stands = read_posture(posture) if isinstance(posture, str) else posture
    point = Point(name, q, T_base_tcp, held, stands, about)  # type: ignore[arg-type]
    return replace(cell, points={**cell.points, name: point})


def without_point(cell: Cell, name: str) -> Cell:
    """Return a cell without a point (``Cell.without_point``)."""
    sound.known("cell: without_point", name, cell.points)
    _require_taught(cell, "without_point", name)
    return replace(cell, points={k: p for k, p in cell.points.items() if k != name})


def _require_taught(cell: Cell, what: str, name: str) -> None:
    """Refuse a point that nobody taught: it would be made anew, and the change be lost."""
    if name in cell.points and cell.points[name].derived:
        due = "a taught one: that one follows from a line of the program"
        sound.refuse(f"cell: {what}", name, due)


def body(cell: Cell, name: str) -> Body:
    """Return the body of a name (``Cell.body``)."""
    _require_body(cell, "body", name)
    return next(body for body in cell.bodies if body.name == name)


def with_body(cell: Cell, body: Body) -> Cell:
    """Return a cell with a body more, or in another's place (``Cell.with_body``)."""
    sound.record("cell: body", body, Body, "a Body")
    names = [one.name for one in cell.bodies]
    if body.name not in names:
        return replace(cell, bodies=(*cell.bodies, body))
    where = names.index(body.name)
    return replace(cell, bodies=(*cell.bodies[:where], body, *cell.bodies[where + 1 :]))


def without_body(cell: Cell, name: str) -> Cell:
    """Return a cell without a body (``Cell.without_body``)."""
    _require_body(cell, "without_body", name)
    return replace(cell, bodies=tuple(body for body in cell.bodies if body.name != name))


def _require_body(cell: Cell, what: str, name: str) -> None:
    names = [body.name for body in cell.bodies]
    sound.known(f"cell: {what}", name, names, "the name of a body of the cell")


def with_program(cell: Cell, program: Program) -> Cell:
    """Return a cell with another program (``Cell.with_program``)."""
    # A line of several moves says what they use once the cell has laid it out.
    made = replace(cell, program=program, subprograms=subprograms_of(program))
    moves = made.program.moves
    weaves = tuple(dict.fromkeys(m.weave.name for m in moves if m.weave is not None))
    schedules = tuple(dict.fromkeys(m.schedule.name for m in moves if m.schedule is not None))
    if (weaves, schedules) == (made.weaves, made.schedules):
        return made
    return replace(made, weaves=weaves, schedules=schedules)


def tip(cell: Cell, q: ArrayLike) -> Array:
    """Return the tip in the world, m (``Cell.tip``)."""
    many = np.ndim(q) == 2
    tips = cell.tips(_axes(cell, q, (None, cell.axes.count) if many else (cell.axes.count,)))
    return np.asarray(tips if many else tips[0])


def _axes(cell: Cell, q: ArrayLike, shape: tuple[int | None, ...]) -> Array:
    """Return ``q`` as ``(n, axes)``; CellError when it is no such thing."""
    names = ", ".join(cell.axes.names)
    due = f"{cell.axes.count} finite numbers in rad or m, for {names}"
    return sound.array("q", q, shape, due).reshape(-1, cell.axes.count)


def to_trimesh(cell: Cell, q: ArrayLike) -> Any:
    """Return everything that has a shape as a ``trimesh.Scene`` (``Cell.to_trimesh``)."""
    import trimesh

    scene = trimesh.Scene()
    for name, mesh, T in posed(cell, q):
        shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        scene.add_geometry(shape, geom_name=name, node_name=name, transform=T)
    return scene


def posed(cell: Cell, q: ArrayLike) -> Iterator[tuple[str, Mesh, Array]]:
    """Give a name of its own, mesh and pose in the world of everything at axes ``q (axes,)``."""
    taken: set[str] = set()
    for name, mesh, T in _shapes(cell, _axes(cell, q, (cell.axes.count,))):
        said, count = name, 1
        while said in taken:  # a body may have the name of a piece; neither may get lost
            count += 1
            said = f"{name} {count}"
        taken.add(said)
        yield said, mesh, T


def _shapes(cell: Cell, q: Array) -> Iterator[tuple[str, Mesh, Array]]:
    """Give name, mesh and pose in the world of everything at ``q (1, axes)``."""
    poses = cell.link_poses(q)[0]
    base = cell.link_meshes[0]
    if base is not None:
        yield cell.link_name(0), base, poses[0]
    for piece in cell.pieces:
        if piece.body is not None and piece.body.stands_from:
            continue  # a bead, which stands on some moves alone
        yield piece.name, piece.mesh, poses[piece.link]
    for body in cell.bodies:
        if not body.is_carried:
            yield body.name, body.mesh, body.T_world_body

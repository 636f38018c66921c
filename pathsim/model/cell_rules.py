"""How the records of a cell have to fit together.

Each record has checked itself. This looks at what only the whole tells, each time a cell is made:
an advice tries thousands, so that it looks at names and lengths and at no array's numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from pathsim.arm import Arm
from pathsim.geometry.mesh import Mesh
from pathsim.model import sound
from pathsim.model.assembly import Assembly
from pathsim.model.axes import Axes
from pathsim.model.cable import Cable
from pathsim.model.groups import Group, require_groups
from pathsim.model.hoses import require_hoses
from pathsim.model.labels import Labels
from pathsim.model.laid_out import lay_out, require_wire
from pathsim.model.margins import Margins
from pathsim.model.process import Process
from pathsim.model.program import Program
from pathsim.model.scenery import LEAST_DRAWN, Body, Point, ToDo
from pathsim.model.torch import Torch
from pathsim.model.turning_table import TABLE, TILT_FRAME, TurningTable
from pathsim.model.wanted_contact import Search, Station
from pathsim.units import MOST

if TYPE_CHECKING:
    from pathsim.model.cell import Cell

#: Names that results use for the arm itself.
_BASE = "arm base"
_FREQUENCY = (0.05, 100.0)


def require_sound(cell: Cell) -> None:
    """Refuse a cell whose records do not fit together; raises CellError.

    What it is made with is put in its place as it is kept: read-only, and as tuples.
    """
    sound.text("cell: name", cell.name)
    sound.record("cell: arm", cell.arm, Arm, "an Arm")
    sound.record("cell: torch", cell.torch, Torch, "a Torch")
    sound.record("cell: margins", cell.margins, Margins, "Margins")
    sound.record("cell: program", cell.program, Program, "a Program")
    for name, kind in (("table", TurningTable), ("process", Process)):
        value = getattr(cell, name)
        if value is not None:
            sound.record(f"cell: {name}", value, kind, f"a {kind.__name__} or None")
    sound.record("cell: labels", cell.labels, Labels, "Labels")
    sound.put(cell, T_world_base=sound.pose("cell: T_world_base", cell.T_world_base))
    _require_limits(cell)
    sound.put(cell, hoses=require_hoses(cell))
    _require_links(cell)
    _require_bodies(cell)
    _require_points(cell)
    lay_out(cell)
    _require_program(cell)
    _require_wanted(cell)


def _require_limits(cell: Cell) -> None:
    sound.number("cell: tip_speed", cell.tip_speed, "m/s", above=0.0, high=MOST["speed"])
    most = MOST["acceleration"]
    sound.number("cell: tip_acceleration", cell.tip_acceleration, "m/s2", above=0.0, high=most)
    if cell.tip_jerk != np.inf:
        sound.number("cell: tip_jerk", cell.tip_jerk, "m/s3", above=0.0, high=MOST["jerk"])
    sound.number("cell: override", cell.override, above=0.0, high=1.0)
    to_do = (sound.word("cell: to_do", word, ToDo) for word in cell.to_do)
    sound.put(cell, to_do=tuple(to_do))
    if cell.natural_frequency is not None:
        low, high = _FREQUENCY
        value = cell.natural_frequency
        sound.number("cell: natural_frequency", value, "Hz", low=low, high=high)


def _require_links(cell: Cell) -> None:
    """Demand a shape, or None, for each link."""
    count = cell.arm.dof + 1
    links = tuple(cell.link_meshes) or (None,) * count
    if len(links) != count:
        due = f"{count}: the base and {cell.arm.dof} links, None for those without a shape"
        sound.refuse("cell: link_meshes", f"{len(links)} entries", due)
    for index, mesh in enumerate(links):
        if mesh is not None:
            sound.record(f"cell: link_meshes[{index}]", mesh, Mesh, "a Mesh or None")
    solids = tuple(cell.approximate_links)
    for link in solids:
        sound.whole("cell: approximate_links", link, 0, cell.arm.dof)
    off = tuple(cell.links_drawn_to)
    if len(off) not in (0, count):
        sound.refuse("cell: links_drawn_to", f"{len(off)} entries", f"none, or {count}")
    for index, value in enumerate(off):
        what = f"cell: links_drawn_to[{index}]"
        sound.number(what, value, "m", low=0.0, high=LEAST_DRAWN)
    assemblies = sound.records("cell: assemblies", cell.assemblies, Assembly, "an Assembly")
    sound.put(
        cell, link_meshes=links, approximate_links=solids, links_drawn_to=off,
        assemblies=assemblies,
    )  # fmt: skip


#: What was last found sound: cures and quick looks make hundreds of cells that differ in points and
#: moves alone. Tuples as they are kept, so that the same ones are still what they were.
_SOUND: list[tuple[object, ...]] = []


def _require_bodies(cell: Cell) -> None:
    """Demand names that are told apart, and that what bears or carries bodies is there."""
    known = _SOUND[-1] if _SOUND else ()
    if known and all(one is other for one, other in zip(known, _of_bodies(cell), strict=True)):
        return
    bodies = sound.records("cell: bodies", cell.bodies, Body, "a Body")
    cables = sound.records("cell: cables", cell.cables, Cable, "a Cable")
    names = [body.name for body in bodies]
    sound.once("cell: name of a body", names, (_BASE,))
    taken = (*names, *(piece.name for piece in (*cell.torch.pieces, cell.torch.wire_piece)))
    sound.once("cell: name of a cable", (cable.name for cable in cables), taken)
    for cable in cables:
        sound.whole(f"cable {cable.name!r}: link", cable.link, 1, cell.arm.dof)
    for body in bodies:
        _require_stand(cell, f"body {body.name!r}", body)
        _require_bears(cell, body)
        if body.bears == "arm" and not cell.arm.has_rail:
            sound.refuse(f"body {body.name!r}: bears", body.bears, "None: the arm is on no rail")
    groups = sound.records("cell: groups", cell.groups, Group, "a Group")
    for group in groups:
        _require_stand(cell, f"group {group.name!r}", group)
    require_groups(groups, bodies)
    sound.put(cell, bodies=bodies, cables=cables, groups=groups)
    _SOUND[:] = [_of_bodies(cell)]


def _of_bodies(cell: Cell) -> tuple[object, ...]:
    """Return all that the rules of bodies look at."""
    return cell.bodies, cell.cables, cell.groups, cell.torch, cell.arm, cell.table


def _require_stand(cell: Cell, of: str, thing: Body | Group) -> None:
    """Demand the table, and the tilt, that something stands on."""
    if thing.stands_on.is_carried and cell.table is None:
        name = "on_table" if thing.on_table else "on_tilt"
        sound.refuse(f"{of}: {name}", True, "False: the cell has no table")
    if thing.on_tilt and cell.table is not None and cell.table.tilt is None:
        sound.refuse(f"{of}: on_tilt", True, "False: the cell's table has no tilt axis")


def _require_bears(cell: Cell, body: Body) -> None:
    """Demand that what bears an axis of the table is what that axis stands on."""
    of = f"body {body.name!r}: bears"
    if body.bears not in (TABLE, TILT_FRAME):
        return
    if cell.table is None:
        sound.refuse(of, body.bears, "None: the cell has no table")
    has_tilt = cell.table.tilt is not None
    if body.bears == TILT_FRAME and not has_tilt:
        sound.refuse(of, body.bears, f"{TABLE!r}: the cell's table has no tilt axis")
    if body.bears == TABLE and has_tilt and not body.on_tilt:
        due = f"{TILT_FRAME!r}: what bears a table that tilts is on its tilt frame"
        sound.refuse(of, body.bears, due)


def _require_points(cell: Cell) -> None:
    """Demand a value for each axis of each point, by its own name."""
    if not isinstance(cell.points, Mapping):
        sound.refuse("cell: points", cell.points, "a mapping of names to Points")
    axes = Axes.of(cell.arm, cell.table)
    points = {name: _as_point(name, point) for name, point in cell.points.items()}
    for name, point in points.items():
        if point.name != name:
            sound.refuse(f"cell: points[{name!r}]", point.name, "a point of that name")
        if point.q is not None and len(point.q) != axes.count:
            due = f"{axes.count}, one for each axis of the cell"
            sound.refuse(f"point {name!r}: q", f"{len(point.q)} values", due)
        if point.held is not None and len(point.held) != len(axes.held):
            due = f"{len(axes.held)}, one for each held axis (rail, seventh joint, table)"
            sound.refuse(f"point {name!r}: held", f"{len(point.held)} values", due)
    sound.put(cell, points=points)


def _as_point(name: str, value: object) -> Point:
    """Return a point; axes alone, ``(axes,)``, as the one that they are."""
    if isinstance(value, np.ndarray | list | tuple):
        return Point(name, q=np.asarray(value))
    return sound.record(f"cell: points[{name!r}]", value, Point, "a Point or its axes")


def _require_program(cell: Cell) -> None:
    """Demand that all that the program names is taught."""
    program, points = cell.program, cell.points
    if not program.moves:
        sound.refuse("program: moves", program.moves, "at least one move")
    sound.known("program: start", program.start, points)
    cut = {s.body: s.cuts_to - cell.torch.wire_length for s in cell.stations if s.cuts_to}
    require_wire(program, cut)
    for number, move in enumerate(program.moves, 1):
        sound.known(f"move {number}: target", move.target, points)
        if move.position is not None and cell.table is None:
            due = "None: the cell has no table that could keep it"
            sound.refuse(f"move {number}: position", move.position, due)
        if move.via is not None:
            sound.known(f"move {number}: via", move.via, points)


def _require_wanted(cell: Cell) -> None:
    """Demand that what searches and stations name is there, of the torch and of the bodies."""
    stations = sound.records("cell: stations", cell.stations, Station, "a Station")
    sound.put(cell, stations=stations)
    searches = [move.search for move in cell.program.moves if move.search is not None]
    named = [move.station for move in cell.program.moves if move.station is not None]
    if not (stations or searches or named):
        return
    bodies = [body.name for body in cell.bodies]
    pieces = [piece.name for piece in (*cell.torch.pieces, cell.torch.wire_piece)]
    sound.once("cell: body of a station", [one.body for one in stations], ())
    for name in (name for station in stations for name in station.also):
        sound.known("station: also", name, bodies, "the name of a body")
    wanted: list[Station | Search] = [*stations, *searches]
    for one in wanted:
        what = "station" if isinstance(one, Station) else "search"
        sound.known(f"{what}: body", one.body, bodies, "the name of a body")
        sound.known(f"{what}: piece", one.piece, pieces, "the wire or a piece of the torch")
    for name in named:
        due = "the body of one of the cell's stations"
        sound.known("move: station", name, [one.body for one in stations], due)

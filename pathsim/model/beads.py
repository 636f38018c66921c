"""Beads as bodies: each stands from behind its own pass on, on what its part stands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathsim.errors import MotionError
from pathsim.geometry.mesh import Mesh
from pathsim.geometry.surface import PartSurface
from pathsim.model.bead import Bead
from pathsim.model.bead_lines import Lain, are_one_line, runs_in
from pathsim.model.bead_mesh import STEP, bead_mesh, together
from pathsim.model.bead_section import BeadSection, area_of_height, area_of_leg
from pathsim.model.move import Move
from pathsim.model.multipass import sides
from pathsim.model.places import Places, Way
from pathsim.model.scenery import Body, Role
from pathsim.model.turning_table import StandsOn
from pathsim.transforms import Array, apply, inverse, rotation_about

if TYPE_CHECKING:
    from pathsim.model.cell import Cell

#: Stations of a bead at most; on the way between them it turns by ``STEP`` at most.
_MOST_STATIONS = 2000


#: A part that moves less than this to another, m and as a sine, stands still to it.
_STILL = 1e-9

_NO_SECTION = BeadSection(0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, eq=False)
class BeadBody(Body):
    """A bead as a body: a part of its own, behind the move ``laid_by`` (index) alone.

    ``area`` m^2: of its own; ``section``: with what was laid in its line before, the largest of it;
    ``lain``: what of its way holds how much, in the body's frame, all of its way first.
    """

    laid_by: int = 0
    area: float = 0.0
    section: BeadSection = _NO_SECTION
    lain: tuple[Lain, ...] = ()

    @property
    def whole(self) -> Lain:
        """All of its way, with the most that it holds anywhere."""
        return Lain(self.section.area, self.lain[0].line)

    @property
    def stands_from(self) -> int:
        """Index of the first move on which it stands."""
        return self.laid_by + 1

    @property
    def bead_top(self) -> float:
        """How high it stands over the line of the wire's end, m."""
        return self.section.top


@dataclass(frozen=True, eq=False)
class LaidBead:
    """The bead of the move ``laid_by`` (index): ``body`` None where it cannot be drawn."""

    name: str
    laid_by: int
    body: BeadBody | None

    @property
    def stands_from(self) -> int:
        """Number of the first move on which it stands, as people count."""
        return self.laid_by + 2


def beads_of(cell: Cell) -> tuple[LaidBead, ...]:
    """Return the beads that the program's passes leave, in their order."""
    found: list[LaidBead] = []
    taken = {body.name for body in cell.bodies}
    where = cell.program.start
    for index, move in enumerate(cell.program.moves):
        if move.leaves is not None:
            name = _own_name(f"bead of '{move.leaves.name}'", taken)
            taken.add(name)
            found.append(LaidBead(name, index, _body(cell, name, index, where, move, found)))
        where = move.target
    return tuple(found)


def bead_area(cell: Cell, move: Move) -> float | None:
    """Area of what a pass leaves, m^2: by its wire, or as stated; None where neither is known."""
    assert move.leaves is not None  # noqa: S101 - asked of passes alone
    said = [_deposited(cell, move), _stated(move.leaves, move)]
    return max((area for area in said if area is not None), default=None)


def _deposited(cell: Cell, move: Move) -> float | None:
    schedule, weave = move.schedule, move.weave
    own = None if schedule is None else schedule.process
    process = cell.process if own is None else own
    if process is None:
        return None
    # a weave may stand while it dwells: then the seam gets more wire than its speed says
    speed = move.speed * (1.0 if weave is None else weave.travelling / weave.period)
    return process.deposit_area(cell.torch.wire_diameter, speed)


def _stated(bead: Bead, move: Move) -> float | None:
    if bead.leg is not None:
        return area_of_leg(bead.leg)
    if bead.height is not None:
        return area_of_height(bead.height, 0.0 if move.weave is None else move.weave.amplitude)
    return None


def _own_name(wanted: str, taken: set[str]) -> str:
    name, number = wanted, 2
    while name in taken:
        name, number = f"{wanted} ({number})", number + 1
    return name


def _body(
    cell: Cell, name: str, index: int, start: str, move: Move, laid: list[LaidBead]
) -> BeadBody | None:
    """Return the body of one bead, with what was ``laid`` in its line; None: it cannot be drawn."""
    from pathsim.model.laid_out import places_of

    area = bead_area(cell, move)
    if area is None:
        return None
    places = places_of(cell, start)
    try:
        way = Way(places, start, move.via, move.target)
        mesh_of = _Swept(places, way, move)
    except MotionError:
        return None  # the move itself cannot be laid, which is said of it
    amplitude = 0.0 if move.weave is None else move.weave.amplitude
    stands_on = _stands_on(cell, mesh_of)
    if not mesh_of.keeps_its_place(stands_on):
        return None
    line = mesh_of.tips(stands_on)
    earlier = [one.body for one in laid if one.body and one.body.stands_on is stands_on]
    # each of these holds what lay under it already
    below = max((b.section.area for b in earlier if are_one_line(line, b.whole)), default=0.0)
    section = BeadSection.of(area + below, amplitude, mesh_of.leans)
    meshes, lain = [mesh_of.mesh(section, stands_on)], [Lain(section.area, line)]
    for run in runs_in(line, [lain for body in earlier for lain in body.lain], below):
        part = _Swept(places, way, move, run.first, run.last)
        both = BeadSection.of(area + run.area, amplitude, mesh_of.leans)
        meshes.append(part.mesh(both, stands_on))
        lain.append(Lain(both.area, part.tips(stands_on), run.first, run.last))
        section = max(section, both, key=lambda one: one.area)
    return BeadBody(
        name, Role.PART, together(meshes), on_table=stands_on is StandsOn.TABLE,
        on_tilt=stands_on is StandsOn.TILT, laid_by=index, area=area,
        section=section, lain=tuple(lain),
    )  # fmt: skip


def front_of(cell: Cell, bead: BeadBody) -> Mesh:
    """Return what of a bead is on the torch's side of the wire's end, m, in the body's frame."""
    from pathsim.model.laid_out import places_of

    moves, section = cell.program.moves, bead.section
    move = moves[bead.laid_by]
    start = moves[bead.laid_by - 1].target if bead.laid_by else cell.program.start
    places = places_of(cell, start)
    way = Way(places, start, move.via, move.target)
    meshes = []
    for one in bead.lain:
        own = BeadSection.of(one.area, section.aside, section.leans)
        part = _Swept(places, way, move, one.first, one.last)
        meshes.append(part.mesh(own.front, bead.stands_on))
    return together(meshes)


class _Swept:
    """Stations along the way of a pass, on the part and on whatever else a part may stand on.

    From the ``first`` share of the way to the ``last`` one.
    """

    def __init__(
        self, places: Places, way: Way, move: Move, first: float = 0.0, last: float = 1.0
    ) -> None:
        self._places, self._way = places, way
        count = min(int(np.ceil((last - first) * way.turned / STEP)) + 1, _MOST_STATIONS)
        shares = np.linspace(first, last, max(count, 2))
        if way.share_via is not None and first < way.share_via < last:
            shares = np.union1d(shares, [way.share_via])
        self._shares = shares
        assert move.leaves is not None  # noqa: S101 - asked of passes alone
        bead, frames, leans = move.leaves, [], []
        for share in shares.tolist():
            T, along = way.at(share), way.travel(share)
            # the joint lies as the torch was taught, without the lean of this pass
            leans.append(bead.lean_across(float(-T[:3, 2] @ along)))
            up = rotation_about(along, leans[-1]) @ sides(T, along)[1]
            frames.append((T[:3, 3], along, up))
        #: Least and most that the torch leans to the left of the taught one, rad.
        self.leans = (min(leans), max(leans))
        self._tips, self._along, self._up = (np.array(v) for v in zip(*frames, strict=True))

    def tips(self, frame: StandsOn) -> Array:
        """Places of the wire's end ``(n, 3)`` as what stands there sees them, m."""
        return self._seen(frame)[0]

    def mesh(self, section: BeadSection, frame: StandsOn) -> Mesh:
        """Return the bead's mesh as what it stands on sees it."""
        tips, along, up = self._seen(frame)
        turns = np.arccos(np.clip((along[1:] * along[:-1]).sum(axis=1), -1, 1))
        rolls = np.arccos(np.clip((up[1:] * up[:-1]).sum(axis=1), -1, 1))
        return bead_mesh(section, tips, along, up, float((turns + rolls).max()), self._way.radius)

    def keeps_its_place(self, frame: StandsOn) -> bool:
        """Tell whether what stands there stays where it is to the part that the line is on.

        Else the bead's way there is none of the forms that ``bead_mesh`` has a bound for.
        """
        T = self._from_part(frame)
        return bool((np.abs(T - T[0]) < _STILL).all())

    def _from_part(self, frame: StandsOn) -> Array:
        """Where each station's part is as what stands there sees it ``(n, 4, 4)``."""
        table, still = self._places.table, np.tile(np.eye(4), (len(self._shares), 1, 1))
        if table is None or frame is StandsOn.TABLE:
            return still
        for k, share in enumerate(self._shares.tolist()):
            held = self._way.held(share)
            if held is not None:
                values = held[-len(table.axes) :]
                still[k] = inverse(table.frame_motion(frame, values)) @ table.motion(values)
        return still

    def _seen(self, frame: StandsOn) -> tuple[Array, Array, Array]:
        T = self._from_part(frame)
        R = T[:, :3, :3]
        tips = np.einsum("nij,nj->ni", R, self._tips) + T[:, :3, 3]
        along, up = (np.einsum("nij,nj->ni", R, v) for v in (self._along, self._up))
        return tips, along, up


def _stands_on(cell: Cell, swept: _Swept) -> StandsOn:
    """Return what the part stands on that the bead is laid on: of several the nearest one's."""
    parts = [body for body in cell.bodies if body.role is Role.PART]
    frames = list(dict.fromkeys(body.stands_on for body in parts))
    if len(frames) == 1:
        return frames[0]
    if not frames:
        return StandsOn.FLOOR if cell.table is None else StandsOn.TABLE

    def away(body: Body) -> float:
        places = apply(inverse(body.T_world_body), swept.tips(body.stands_on))
        return float(PartSurface.of(body.mesh).nearest(places).distance.max())

    return min(parts, key=away).stands_on

"""The cell: everything a check needs, in one frozen record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm import Arm
from pathsim.arm.postures import ANY_POSTURE, Posture
from pathsim.geometry.mesh import Mesh
from pathsim.model import cell_edits
from pathsim.model.assembly import Assembly
from pathsim.model.axes import Axes
from pathsim.model.beads import LaidBead, beads_of
from pathsim.model.cable import Cable
from pathsim.model.cell_rules import require_sound
from pathsim.model.groups import Group, with_group
from pathsim.model.hoses import Hose
from pathsim.model.labels import Labels
from pathsim.model.linkage import (
    Linkage,
    arm_in_world,
    arm_on_table,
    arm_on_tilt,
    table_in_world,
    table_on_tilt,
)
from pathsim.model.piece import Piece, link_name
from pathsim.model.process import Process
from pathsim.model.program import Move, Program
from pathsim.model.scenery import IDENTITY, Body, Margins, Point, ToDo
from pathsim.model.shared_room import SharedRoom
from pathsim.model.torch import Torch, TorchPiece
from pathsim.model.turning_table import StandsOn, TurningTable
from pathsim.model.wanted_contact import Station, Wanted
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, frozen, inverse


@dataclass(frozen=True, eq=False, kw_only=True)
class Cell(FieldsOnly):
    """A cell ready to be checked; what decides a verdict has to be said: limits and margins too.

    ``points``: by name; one may come as its axes alone, ``(axes,)`` in rad, m on sliding axes.
    ``T_world_base (4, 4)``: where the arm stands, the world's origin when not said.
    ``link_meshes`` has ``dof + 1`` entries in link frames, base first; None where the description
    says that a link has no shape, and for the bed of a rail. Left out, no link has one, and every
    check says so. ``links_drawn_to``: how far each of them may be off the true surface, m, empty
    where none is. ``approximate_links``: those that are solids in place of castings;
    ``shared_room``: what these share by construction.
    ``tip_speed``, ``tip_acceleration`` and ``tip_jerk`` are the arm's largest, m/s, m/s^2, m/s^3;
    no jerk limit when not said.
    ``natural_frequency``: the arm's measured first one, Hz. ``override``: share of the program's
    speeds in the first run. ``process``: what seams are welded with, if said. ``table``: the
    turning table, if there is one. ``cables``: those that one link carries; others are not in
    the model. ``weaves``, ``schedules``, ``subprograms``: names of all described, used or not.
    ``to_do``: what is still an example, said in every result. ``groups``: jigs with bodies that
    name them. ``stations``: bodies that serve the torch. ``hoses``: how far hoses stand to be
    wound up about a joint, where that is known. ``labels``: program, part, job and
    revision, for paper. ``assemblies``: mesh files of several parts, and what uses which.
    ``fingerprint`` is a hash over all ``files``, which are named from the folder that holds the
    cell folder.

    Joint vectors of a cell have a column for each of its ``axes``: the arm's joints, then the
    turning table's (tilt, turn). Raises CellError when the records do not fit together
    (``cell_rules``).
    """

    arm: Arm
    torch: Torch
    points: Mapping[str, Point]
    program: Program
    margins: Margins
    tip_speed: float
    tip_acceleration: float
    name: str = "cell"
    T_world_base: Array = field(default_factory=lambda: IDENTITY)
    link_meshes: tuple[Mesh | None, ...] = ()
    bodies: tuple[Body, ...] = ()
    fingerprint: str = ""
    files: tuple[str, ...] = ()
    table: TurningTable | None = None
    approximate_links: tuple[int, ...] = ()
    tip_jerk: float = np.inf
    natural_frequency: float | None = None
    override: float = 0.5
    process: Process | None = None
    cables: tuple[Cable, ...] = ()
    weaves: tuple[str, ...] = ()
    schedules: tuple[str, ...] = ()
    subprograms: tuple[str, ...] = ()
    shared_room: SharedRoom = field(default_factory=SharedRoom)
    to_do: tuple[ToDo, ...] = ()
    groups: tuple[Group, ...] = ()
    stations: tuple[Station, ...] = ()
    labels: Labels = field(default_factory=Labels)
    links_drawn_to: tuple[float, ...] = ()
    assemblies: tuple[Assembly, ...] = ()
    hoses: tuple[Hose, ...] = ()

    def __post_init__(self) -> None:
        require_sound(self)

    def __repr__(self) -> str:
        bodies, moves = len(self.bodies), len(self.program.moves)
        return f"Cell({self.name!r}, {bodies} bodies, {len(self.points)} points, {moves} moves)"

    @cached_property
    def axes(self) -> Axes:
        """All axes that move."""
        return Axes.of(self.arm, self.table)

    @cached_property
    def T_base_world(self) -> Array:  # noqa: N802 - a pose is named by its frames
        """Pose ``(4, 4)`` of the world in the arm's base."""
        return frozen(inverse(self.T_world_base))

    @cached_property
    def arm_pieces(self) -> tuple[Piece, ...]:
        """Links with a shape and pieces of the torch, from the base outwards, then cables."""
        links = [
            Piece(
                self.link_name(index),
                index,
                mesh,
                is_torch=False,
                drawn_to=self.link_drawn_to(index),
            )
            for index, mesh in enumerate(self.link_meshes)
            if mesh is not None and index > 0
        ]
        torch = [
            Piece(piece.name, self.arm.dof, piece.mesh, is_torch=True, drawn_to=piece.drawn_to)
            for piece in self.torch.pieces
        ]
        torch.append(self._wire(self.torch.wire_piece))
        last = self.arm.dof
        cables = [
            Piece(cable.name, cable.link, cable.mesh, is_torch=cable.link == last, cable=cable)
            for cable in self.cables
        ]
        return (*links, *torch, *cables)

    def link_drawn_to(self, index: int) -> float:
        """How far the mesh of a link may be off the true surface, m."""
        return self.links_drawn_to[index] if self.links_drawn_to else 0.0

    def _wire(self, piece: TorchPiece) -> Piece:
        return Piece(piece.name, self.arm.dof, piece.mesh, is_torch=True, is_wire=True)

    @cached_property
    def wire(self) -> Piece:
        """The whole wire, one of the ``arm_pieces``."""
        return next(piece for piece in self.arm_pieces if piece.is_wire)

    @cached_property
    def wires_above(self) -> Mapping[float, Piece | None]:
        """By the length (m) of the end that may touch there: the wire above that end.

        For all seams and searches of the program; None where the end is the whole wire. They are
        part of the ``wire``, and only measured in its stead.
        """
        welds = [move for move in self.program.moves if move.at_weld]
        lengths = {move.touching_end for move in welds}
        if self.bead_top:
            # without the weave too: for one that is only tried the next shorter end is measured
            ends = lengths | {move.wire_end for move in welds}
            lengths |= {length + self.bead_top for length in ends}
        wanted = filter(None, map(self.wanted, self.program.moves))
        lengths |= {one.end for one in wanted if one.end < np.inf}
        above = {length: self.torch.wire_above(length) for length in sorted(lengths)}
        return {k: None if piece is None else self._wire(piece) for k, piece in above.items()}

    def wanted(self, move: Move) -> Wanted | None:
        """Return the contact that a move is there for; None where it is there for none."""
        if move.search is not None:
            return Wanted.of_search(move.search, move.wire_end)
        stations = (one for one in self.stations if one.body == move.station)
        return next(map(Wanted.of_station, stations), None)

    @cached_property
    def carried_pieces(self) -> tuple[Piece, ...]:
        """All that the arm carries past what is measured: ``arm_pieces``, ``wires_above``."""
        return (*self.arm_pieces, *(wire for wire in self.wires_above.values() if wire))

    @cached_property
    def beads(self) -> tuple[LaidBead, ...]:
        """What the program's passes leave standing, in their order."""
        return beads_of(self)

    @cached_property
    def standing(self) -> tuple[Body, ...]:
        """Its bodies, and beads as bodies: these only from behind their own pass on."""
        return (*self.bodies, *(one.body for one in self.beads if one.body is not None))

    @cached_property
    def bead_top(self) -> float:
        """How high the highest bead stands over its line of the wire's end, m; 0 without any."""
        return max((body.bead_top for body in self.standing), default=0.0)

    @cached_property
    def table_pieces(self) -> tuple[Piece, ...]:
        """Bodies on the turning table or on its tilt frame, as things that move."""
        return tuple(
            Piece(
                body.name,
                self.link_under(body.stands_on),
                body.mesh.moved(body.T_world_body),
                is_torch=False,
                body=body,
            )
            for body in self.standing
            if body.is_carried
        )

    def link_under(self, stands_on: StandsOn) -> int:
        """Return the number of the link that the tilt frame or the table is (``link_poses``)."""
        last = self.arm.dof + (0 if self.table is None else len(self.table.axes))
        return last if stands_on is StandsOn.TABLE else self.arm.dof + 1

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        """Everything that moves; the standing base is not among it."""
        return (*self.arm_pieces, *self.table_pieces)

    @cached_property
    def shapeless_links(self) -> tuple[int, ...]:
        """Links that the description says have no shape: they cannot be checked."""
        elsewhere = {link for link, _ in self.shared_room.within}
        return tuple(
            i
            for i, mesh in enumerate(self.link_meshes)
            if mesh is None and i not in elsewhere and not (i == 0 and self.arm.has_rail)
        )

    def link_name(self, index: int) -> str:
        """Name of a link in results (``link_name``)."""
        return link_name(self.arm, index)

    @cached_property
    def world_linkage(self) -> Linkage:
        """The arm's chain in the world."""
        return arm_in_world(self.arm, self.T_world_base)

    @cached_property
    def relative_linkage(self) -> Linkage:
        """The arm's chain seen from the turning table."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return arm_on_table(self.arm, self.T_world_base, self.table)

    @cached_property
    def tilt_linkage(self) -> Linkage:
        """The arm's chain seen from the tilt frame of a table of two axes."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return arm_on_tilt(self.arm, self.T_world_base, self.table)

    @cached_property
    def table_linkage(self) -> Linkage:
        """The turning table's chain in the world."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return table_in_world(self.arm, self.table)

    @cached_property
    def turn_linkage(self) -> Linkage:
        """The turning table's chain seen from the tilt frame that carries it."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return table_on_tilt(self.arm, self.table)

    def with_point(
        self,
        name: str,
        *,
        q: ArrayLike | None = None,
        T_base_tcp: ArrayLike | None = None,
        T_world_tcp: ArrayLike | None = None,
        held: ArrayLike | None = None,
        posture: Posture | str = ANY_POSTURE,
        about: tuple[tuple[int, float], ...] = (),
    ) -> Cell:
        """Return the cell with a point taught anew, or one more.

        ``q (axes,)`` in rad, m on sliding axes, or the tool centre point's pose ``(4, 4)`` in m,
        in the arm's base or in the world, or axes and a pose. ``held``, ``posture`` (or its words,
        as in a points file) and ``about`` as in ``Point``. What is not given of a point that is
        there already goes: a new place is a new point. Raises CellError or ArmError.
        """
        pose = cell_edits.pose_in_base(self, name, T_base_tcp, T_world_tcp)
        return cell_edits.with_point(self, name, q, pose, held, posture, about)

    def without_point(self, name: str) -> Cell:
        """Return the cell without a point. CellError where the program goes there, or none is."""
        return cell_edits.without_point(self, name)

    def body(self, name: str) -> Body:
        """Return the body of a name. CellError where there is none."""
        return cell_edits.body(self, name)

    def with_body(self, body: Body) -> Cell:
        """Return the cell with one body more, or with this in place of the one of its name."""
        return cell_edits.with_body(self, body)

    def without_body(self, name: str) -> Cell:
        """Return the cell without a body. CellError where there is none of that name."""
        return cell_edits.without_body(self, name)

    def with_group(self, group: Group) -> Cell:
        """Return the cell with one group more, or with this in place of the one of its name.

        Bodies of that group move with it, turn as it does, and are known as well as it is.
        """
        return with_group(self, group)

    def with_program(self, start: str, *moves: Move) -> Cell:
        """Return the cell with another program, whose weaves are then all that it has.

        Raises CellError when it cannot be meant.
        """
        return cell_edits.with_program(self, Program(start, moves))

    def tip(self, q: ArrayLike) -> Array:
        """Tool centre point in the world, m: ``(3,)`` at axes ``q (axes,)``, ``(n, 3)`` at many.

        ``q`` in rad, m on sliding axes. Raises CellError when ``q`` does not fit the axes.
        """
        return cell_edits.tip(self, q)

    def posed(self, q: ArrayLike) -> dict[str, Mesh]:
        """Return all meshes but beads in the world, m, at axes ``q (axes,)`` in rad or m, by name.

        A second thing of the same name is counted: 'nozzle', 'nozzle 2'. Raises CellError.
        """
        return {name: mesh.moved(T) for name, mesh, T in cell_edits.posed(self, q)}

    def to_trimesh(self, q: ArrayLike) -> Any:
        """Return a ``trimesh.Scene`` of everything with a shape, posed at axes ``q (axes,)``.

        World frame, m; ``q`` in rad, m on sliding axes. Geometries carry the names that results
        use. Links without a shape are not in it; a cable is all that it may fill, slack included.
        Raises CellError when ``q`` does not fit the axes.
        """
        return cell_edits.to_trimesh(self, q)

    def table_motion(self, q: Array) -> Array:
        """``T_world_table (n, 4, 4)``, m, at axes ``q (n, axes)``; the identity without a table."""
        if self.table is None:
            return np.broadcast_to(np.eye(4), (len(q), 4, 4))
        return self.table.motion(self.table_values(q))

    def frame_motion(self, stands_on: StandsOn, q: Array) -> Array:
        """``T_world_frame (n, 4, 4)``, m, of what a body stands on, at axes ``q (n, axes)``."""
        if self.table is None:
            return np.broadcast_to(np.eye(4), (len(q), 4, 4))
        return self.table.frame_motion(stands_on, self.table_values(q))

    @property
    def frames(self) -> tuple[StandsOn, ...]:
        """All that something can stand on in this cell, the floor first."""
        if self.table is None:
            return (StandsOn.FLOOR,)
        has_tilt = self.table.tilt is not None
        return tuple(frame for frame in StandsOn if has_tilt or frame is not StandsOn.TILT)

    def table_values(self, values: Array) -> Array:
        """Return the table's own ``(..., k)`` of values of all axes, or of all held axes."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return np.asarray(values[..., -len(self.table.axes) :])

    def link_motions(self, q: Array) -> list[Array]:
        """``T_world_link (n, 4, 4)``, m, of the tilt frame, if there is one, and of the table."""
        return [self.frame_motion(frame, q) for frame in self.frames[1:]]

    def link_poses(self, q: Array) -> Array:
        """``T_world_link (n, links, 4, 4)`` at axes ``q (n, axes)``.

        Base first, then the arm's links; with a turning table the links of its axes at the end.
        """
        poses = self.T_world_base @ self.arm.link_poses(q[:, : self.arm.dof])
        if self.table is None:
            return np.asarray(poses)
        return np.concatenate([poses, *(T[:, None] for T in self.link_motions(q))], axis=1)

    def tool_poses(self, q: Array) -> Array:
        """``T_world_tcp (n, 4, 4)``, m, at axes ``q (n, axes)`` in rad or m."""
        T_base_flange = self.arm.pose(q[:, : self.arm.dof])
        return np.asarray(self.T_world_base @ T_base_flange @ self.torch.T_flange_tcp)

    def tips(self, q: Array) -> Array:
        """Tip ``(n, 3)`` in the world, m, at axes ``q (n, axes)`` in rad or m."""
        return self.world_linkage.end_points(q, self.torch.T_flange_tcp[:3, 3])

    def tips_on_part(self, q: Array) -> Array:
        """Tip ``(n, 3)`` seen from the turning table, m; in the world without one."""
        return self.tips_seen_from(StandsOn.TABLE, q)

    def tips_seen_from(self, stands_on: StandsOn, q: Array) -> Array:
        """Tip ``(n, 3)`` as what stands there sees it, m, at axes ``q (n, axes)``."""
        tips = self.tips(q)
        if self.table is None or not stands_on.is_carried:
            return tips
        T = inverse(self.frame_motion(stands_on, q))
        return np.asarray((T[:, :3, :3] @ tips[..., None])[..., 0] + T[:, :3, 3])

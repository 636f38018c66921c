"""What moves in a cell, and what stands in it: pieces, wires above their end, bodies, beads."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, cast

import numpy as np

from pathsim.arm import Arm
from pathsim.geometry.mesh import Mesh
from pathsim.model.beads import LaidBead, beads_of
from pathsim.model.cable import Cable
from pathsim.model.move import Move
from pathsim.model.piece import Piece, link_name
from pathsim.model.program import Program
from pathsim.model.scenery import Body
from pathsim.model.shared_room import SharedRoom
from pathsim.model.torch import Torch, TorchPiece
from pathsim.model.turning_table import StandsOn, TurningTable
from pathsim.model.wanted_contact import Station, Wanted

if TYPE_CHECKING:
    from pathsim.model.cell import Cell


class CellPieces:
    """What a cell says of its things; the fields are the cell's own."""

    arm: Arm
    torch: Torch
    program: Program
    link_meshes: tuple[Mesh | None, ...]
    links_drawn_to: tuple[float, ...]
    bodies: tuple[Body, ...]
    table: TurningTable | None
    cables: tuple[Cable, ...]
    shared_room: SharedRoom
    stations: tuple[Station, ...]

    @cached_property
    def arm_pieces(self) -> tuple[Piece, ...]:
        """Links with a shape and pieces of the torch, from the base outwards, then cables."""
        return _arm_pieces(
            self.arm, tuple(self.link_meshes), tuple(self.links_drawn_to), self.torch,
            tuple(self.cables),
        )  # fmt: skip

    def link_drawn_to(self, index: int) -> float:
        """How far the mesh of a link may be off the true surface, m."""
        return self.links_drawn_to[index] if self.links_drawn_to else 0.0

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
        last = self.arm.dof
        return {k: None if piece is None else _wire(piece, last) for k, piece in above.items()}

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
        return beads_of(cast("Cell", self))

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


@lru_cache(maxsize=8)
def _arm_pieces(
    arm: Arm,
    meshes: tuple[Mesh | None, ...],
    drawn_to: tuple[float, ...],
    torch: Torch,
    cables: tuple[Cable, ...],
) -> tuple[Piece, ...]:
    """Return what the arm carries; the same objects for the same things, whatever is taught."""
    last = arm.dof
    links = [
        Piece(
            link_name(arm, index),
            index,
            mesh,
            is_torch=False,
            drawn_to=drawn_to[index] if drawn_to else 0.0,
        )
        for index, mesh in enumerate(meshes)
        if mesh is not None and index > 0
    ]
    tools = [
        Piece(piece.name, last, piece.mesh, is_torch=True, drawn_to=piece.drawn_to)
        for piece in torch.pieces
    ]
    tools.append(_wire(torch.wire_piece, last))
    along = [
        Piece(cable.name, cable.link, cable.mesh, is_torch=cable.link == last, cable=cable)
        for cable in cables
    ]
    return (*links, *tools, *along)


@lru_cache(maxsize=32)
def _wire(piece: TorchPiece, link: int) -> Piece:
    return Piece(piece.name, link, piece.mesh, is_torch=True, is_wire=True)

"""The cell: everything a check needs, in one frozen record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from pathsim.arm import Arm
from pathsim.model.mesh import Mesh
from pathsim.model.program import Program
from pathsim.model.scenery import Body, Margins, Point
from pathsim.model.torch import Torch
from pathsim.transforms import Array


@dataclass(frozen=True)
class Piece:
    """Something that moves with link ``link``: a link's casting or a piece of the torch.

    ``mesh`` is in the frame of that link (``Arm.link_poses``).
    """

    name: str
    link: int
    mesh: Mesh
    is_torch: bool


@dataclass(frozen=True, eq=False)
class Cell:
    """A cell ready to be checked.

    ``T_world_base (4, 4)``: where the arm stands. ``link_meshes`` has ``dof + 1`` entries in
    link frames, base first; None where the description says that a link has no shape.
    ``tip_speed`` and ``tip_acceleration`` are the arm's largest, m/s and m/s^2.
    ``fingerprint`` is a hash over the contents of all files that were read.
    """

    name: str
    arm: Arm
    T_world_base: Array
    link_meshes: tuple[Mesh | None, ...]
    tip_speed: float
    tip_acceleration: float
    torch: Torch
    bodies: tuple[Body, ...]
    points: Mapping[str, Point]
    margins: Margins
    program: Program
    fingerprint: str = ""

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        """Everything that moves, from the base outwards; the standing base is not among it."""
        links = [
            Piece(f"link {index}", index, mesh, is_torch=False)
            for index, mesh in enumerate(self.link_meshes)
            if mesh is not None and index > 0
        ]
        torch = [
            Piece(piece.name, self.arm.dof, piece.mesh, is_torch=True)
            for piece in (*self.torch.pieces, self.torch.wire_piece())
        ]
        return (*links, *torch)

    @cached_property
    def shapeless_links(self) -> tuple[int, ...]:
        """Links that the description says have no shape: they cannot be checked."""
        return tuple(i for i, mesh in enumerate(self.link_meshes) if mesh is None)

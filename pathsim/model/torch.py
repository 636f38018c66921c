"""The torch: pieces with meshes in the flange frame, and the wire down to the tool centre point."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.model import sound
from pathsim.model.scenery import LEAST_DRAWN
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, apply, frozen, inverse

#: The wire's prism is drawn round its circle, never inside it.
_WIRE_SIDES = 12
#: What results call the wire. No rule goes by it: a piece says itself whether it is the wire.
WIRE = "wire"
#: Less of the wire than this is nothing, m.
_SHORTEST = 1e-4
#: A stick-out, or a wire, of more than this is in a wrong unit, m.
LONGEST_WIRE, THICKEST_WIRE = 0.15, 0.01


@dataclass(frozen=True)
class TorchPiece:
    """One piece (nozzle, neck, body, ...) with its mesh in the flange frame.

    ``drawn_to``: how far its triangles may be off the true surface, m; every margin is wider by it.
    """

    name: str
    mesh: Mesh
    drawn_to: float = 0.0

    def __post_init__(self) -> None:
        sound.text("torch piece: name", self.name)
        of = f"torch piece {self.name!r}"
        sound.record(f"{of}: mesh", self.mesh, Mesh, "a Mesh")
        sound.number(f"{of}: drawn_to", self.drawn_to, "m", low=0.0, high=LEAST_DRAWN)

    def __repr__(self) -> str:
        return f"TorchPiece({self.name!r}, {len(self.mesh.faces)} triangles)"


@dataclass(frozen=True, eq=False)
class Torch(FieldsOnly):
    """A torch on the flange.

    ``T_flange_tcp (4, 4)``: tool centre point at the wire's tip, its z along the wire out
    of the torch. ``wire_length`` is the stick-out from contact tip to tool centre point, m.
    ``unit``: the unit of length that its mesh files were read in, empty where nobody said.
    Raises CellError when it cannot be meant.
    """

    name: str
    pieces: tuple[TorchPiece, ...]
    T_flange_tcp: Array
    wire_length: float
    wire_diameter: float
    unit: str = ""

    def __post_init__(self) -> None:
        sound.text("torch: name", self.name)
        pieces = sound.records("torch: pieces", self.pieces, TorchPiece, "a TorchPiece")
        if not pieces:
            sound.refuse("torch: pieces", pieces, "at least one: the wire alone is no torch")
        sound.once("torch: name of a piece", (piece.name for piece in pieces), (WIRE,))
        sound.number("torch: wire_length", self.wire_length, "m", above=0.0, high=LONGEST_WIRE)
        thickest = THICKEST_WIRE
        sound.number("torch: wire_diameter", self.wire_diameter, "m", above=0.0, high=thickest)
        T = sound.pose("torch: T_flange_tcp", self.T_flange_tcp)
        sound.put(self, pieces=pieces, T_flange_tcp=T)

    def __repr__(self) -> str:
        return f"Torch({self.name!r}, {len(self.pieces)} pieces)"

    @cached_property
    def T_tcp_flange(self) -> Array:  # noqa: N802 - a pose is named by its frames
        """The flange in the tool's frame, ``(4, 4)``, m."""
        return frozen(inverse(self.T_flange_tcp))

    @cached_property
    def wire_piece(self) -> TorchPiece:
        """The wire as a piece of its own: a prism round the stick-out.

        Kept: cells whose points were taught anew share it, and all that is known of its mesh.
        """
        return TorchPiece(WIRE, self._prism(0.0))

    def wire_above(self, length: float) -> TorchPiece | None:
        """Return the wire without ``length`` m of it at its end; None where nothing is left."""
        if length >= self.wire_length - _SHORTEST:
            return None
        if length not in self._above:
            self._above[length] = TorchPiece(WIRE, self._prism(length))
        return self._above[length]

    @cached_property
    def _above(self) -> dict[float, TorchPiece]:
        return {}

    def _prism(self, end: float) -> Mesh:
        """Return the wire from the contact tip to ``end`` m before the tool centre point."""
        radius = self.wire_diameter / 2 / np.cos(np.pi / _WIRE_SIDES)
        angles = 2 * np.pi * np.arange(_WIRE_SIDES) / _WIRE_SIDES
        ring = np.stack([radius * np.cos(angles), radius * np.sin(angles)], axis=-1)
        top = np.column_stack([ring, np.full(_WIRE_SIDES, -self.wire_length)])
        bottom = np.column_stack([ring, np.full(_WIRE_SIDES, -end)])
        vertices = np.vstack([top, bottom])
        i = np.arange(_WIRE_SIDES)
        j = (i + 1) % _WIRE_SIDES
        fan = i[1:-1]
        faces = np.vstack(
            [
                np.column_stack([i, i + _WIRE_SIDES, j]),
                np.column_stack([j, i + _WIRE_SIDES, j + _WIRE_SIDES]),
                np.column_stack([np.zeros_like(fan), fan, fan + 1]),
                np.column_stack([np.zeros_like(fan), fan + 1, fan]) + _WIRE_SIDES,
            ]
        )
        return Mesh(apply(self.T_flange_tcp, vertices), faces)

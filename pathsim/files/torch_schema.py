"""What a torch description may say."""

from __future__ import annotations

from pydantic import Field

from pathsim.files.quantities import Entry, FormatNumber, Place, Turn, Unit, Up, WireDiameter


class ToolCentreEntry(Entry):
    """Place of the tool centre point on the flange; its z runs along the wire, outwards."""

    at: Place
    turned: Turn


class PieceEntry(Entry):
    """One piece of the torch, drawn in the flange frame."""

    name: str = Field(min_length=1)
    mesh: str


class TorchFile(Entry):
    """A torch description."""

    format: FormatNumber
    name: str = Field(min_length=1)
    tool_centre_point: ToolCentreEntry = Field(alias="tool centre point")
    wire_diameter: WireDiameter = Field(alias="wire diameter")
    unit: Unit
    up: Up | None = None
    pieces: list[PieceEntry] = Field(min_length=1)

"""What a torch description may say."""

from __future__ import annotations

from pathlib import PurePosixPath

from pydantic import Field, model_validator

from pathsim.files.quantities import (
    Angle,
    DrawnTo,
    Entry,
    FormatNumber,
    Length,
    LengthFromZero,
    PartNames,
    Place,
    Tape,
    Turn,
    Unit,
    Up,
    WireDiameter,
)
from pathsim.mesh_files import OWN_UNIT


class ToolCentreEntry(Entry):
    """Place of the tool centre point on the flange; its z runs along the wire, outwards."""

    at: Place
    turned: Turn


class PieceEntry(Entry):
    """One piece of the torch, drawn in the flange frame."""

    name: str = Field(min_length=1)
    mesh: str
    part: PartNames | None = None
    drawn_to: DrawnTo | None = Field(default=None, alias="drawn to")


class BarrelEntry(Entry):
    """A round piece of a torch."""

    length: Tape
    diameter: Tape


class NeckEntry(Entry):
    """The neck: its bend, and how far it is straight on both sides."""

    diameter: Tape
    angle: Angle
    radius: LengthFromZero = 0.0
    before: LengthFromZero = 0.0
    after: LengthFromZero = 0.0


class NozzleEntry(Entry):
    """The nozzle, and where the contact tip stands in it."""

    length: Tape
    diameter: Tape
    mouth: Tape
    tip: Length = 0.0


class BuiltEntry(Entry):
    """A torch from a few numbers; its tool centre point is worked out."""

    mount: BarrelEntry | None = None
    body: BarrelEntry
    neck: NeckEntry
    nozzle: NozzleEntry
    towards: Angle = 0.0


class TorchFile(Entry):
    """A torch description: pieces as meshes, or built from numbers."""

    format: FormatNumber
    name: str = Field(min_length=1)
    tool_centre_point: ToolCentreEntry | None = Field(default=None, alias="tool centre point")
    wire_diameter: WireDiameter = Field(alias="wire diameter")
    unit: Unit | None = None
    up: Up | None = None
    pieces: list[PieceEntry] | None = Field(default=None, min_length=1)
    built: BuiltEntry | None = None

    @model_validator(mode="after")
    def _is_drawn_or_built(self) -> TorchFile:
        drawn = {
            "tool centre point": self.tool_centre_point,
            "unit": self.unit,
            "pieces": self.pieces,
        }
        if self.built is None:
            # STEP and 3MF files say their own unit.
            endings = [PurePosixPath(one.mesh).suffix.lower() for one in self.pieces or []]
            needs_none = bool(endings) and all(one in OWN_UNIT for one in endings)
            for key, value in drawn.items():
                if value is None and not (key == "unit" and needs_none):
                    raise ValueError(f"came no '{key}'; expected it, or 'built' with the numbers")
            return self
        given = [key for key, value in (*drawn.items(), ("up", self.up)) if value is not None]
        if given:
            raise ValueError(f"came '{given[0]}' and 'built'; expected meshes or numbers, not both")
        return self

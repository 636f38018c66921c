"""What an arm description and a torch description may say."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from pathsim.files.quantities import (
    Acceleration,
    Angle,
    AngleRange,
    Entry,
    Length,
    LengthAboveZero,
    Place,
    Speed,
    Turn,
    TurningAcceleration,
    TurningSpeed,
)

Unit = Literal["mm", "cm", "m", "in"]
#: Which axis of a mesh file points up. GLB says y by its standard, but not every program keeps
#: to it, so a GLB file needs the word.
Up = Literal["y", "z"]


class JointEntry(Entry):
    """One Denavit-Hartenberg row with the joint's limits."""

    a: Length
    alpha: Angle
    d: Length
    theta0: Angle = 0.0
    limits: AngleRange
    speed: TurningSpeed
    acceleration: TurningAcceleration


class TipEntry(Entry):
    """The largest speed and acceleration of the tip."""

    speed: Speed
    acceleration: Acceleration


class LinkEntry(Entry):
    """The shape of one link; ``mesh: none`` says that there is none."""

    link: int = Field(ge=0)
    mesh: str


class LinksEntry(Entry):
    """Link shapes and how they are drawn."""

    drawn_in: Literal["base frame at zero", "link frames"] = Field(alias="drawn in")
    unit: Unit
    up: Up | None = None
    shapes: list[LinkEntry]


class ArmFile(Entry):
    """An arm description."""

    format: Literal[1]
    name: str = Field(min_length=1)
    convention: Literal["standard", "modified"]
    joints: list[JointEntry] = Field(min_length=1)
    tip: TipEntry
    links: LinksEntry


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

    format: Literal[1]
    name: str = Field(min_length=1)
    tool_centre_point: ToolCentreEntry = Field(alias="tool centre point")
    wire_diameter: LengthAboveZero = Field(alias="wire diameter")
    unit: Unit
    up: Up | None = None
    pieces: list[PieceEntry] = Field(min_length=1)

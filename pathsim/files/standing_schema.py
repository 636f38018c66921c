"""What ``cell.yaml`` may say of what stands in the cell: arm, torch, bodies, groups, table."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Literal

from pydantic import Field, model_validator

from pathsim.files.quantities import (
    AngleRange,
    DrawnTo,
    Entry,
    LengthFromZero,
    PartNames,
    Place,
    StickOut,
    Turn,
    TurningAcceleration,
    TurningSpeed,
    Unit,
    Up,
)
from pathsim.files.shape_schema import ShapedEntry, shape_keys
from pathsim.mesh_files import OWN_UNIT, STEP
from pathsim.model import Role
from pathsim.model.turning_table import TABLE, TILT_FRAME


class ArmEntry(Entry):
    """The arm description and where its base stands in the world."""

    description: str
    at: Place
    turned: Turn = (0.0, 0.0, 0.0)


class TorchEntry(Entry):
    """The torch description and the wire's stick-out."""

    description: str
    wire: StickOut


class BodyEntry(ShapedEntry):
    """Something that stands still, or turns with the turning table: a mesh file or a shape."""

    name: str = Field(min_length=1)
    role: Role
    mesh: str | None = None
    part: PartNames | None = None
    unit: Unit | None = None
    up: Up | None = None
    at: Place
    turned: Turn = (0.0, 0.0, 0.0)
    on: str | None = None
    known_to: LengthFromZero = Field(default=0.0, alias="known to")
    drawn_to: DrawnTo | None = Field(default=None, alias="drawn to")
    bears: Literal["arm", "turning table", "tilt frame"] | None = None

    @model_validator(mode="after")
    def _has_one_shape(self) -> BodyEntry:
        given = [key for key, _ in self.shapes()]
        if self.mesh is not None:
            given.insert(0, "mesh")
        if len(given) != 1:
            came = " and ".join(given) if given else "neither a mesh nor a shape"
            rule = "one of mesh, " + ", ".join(shape_keys())
            raise ValueError(f"came {came}; expected {rule}")
        if self.mesh is None and (self.unit is not None or self.up is not None):
            raise ValueError(f"came 'unit' or 'up' with '{given[0]}'; expected them with a mesh")
        ending = "" if self.mesh is None else PurePosixPath(self.mesh).suffix.lower()
        if ending in STEP and self.unit is not None:
            raise ValueError("came 'unit' with a STEP file; expected none: the file says its own")
        for key, value in (("drawn to", self.drawn_to), ("part", self.part)):
            if value is not None and self.mesh is None:
                raise ValueError(f"came '{key}' with a shape; expected it with a mesh")
        if self.mesh is not None and self.unit is None and ending not in OWN_UNIT:
            raise ValueError("came 'mesh' without 'unit'; expected 'unit: mm', cm, m or in")
        return self

    @model_validator(mode="after")
    def _does_not_bear_itself(self) -> BodyEntry:
        is_tilted = self.on == TILT_FRAME and self.bears == TABLE
        if self.on is not None and self.bears is not None and not is_tilted:
            raise ValueError("came 'on' and 'bears'; expected one of them: it turns or it stands")
        return self


class WithinEntry(Entry):
    """The box of a group's frame in which its ``known to`` holds."""

    low: Place = Field(alias="from")
    high: Place = Field(alias="to")

    @model_validator(mode="after")
    def _is_a_box(self) -> WithinEntry:
        if any(a > b for a, b in zip(self.low, self.high, strict=True)):
            raise ValueError("came a corner 'to' below 'from'; expected the least values first")
        return self


class GroupEntry(Entry):
    """Bodies that move together: they name it under ``on``, and are placed in its frame."""

    at: Place
    turned: Turn = (0.0, 0.0, 0.0)
    on: Literal["turning table", "tilt frame"] | None = None
    known_to: LengthFromZero = Field(default=0.0, alias="known to")
    known_within: WithinEntry | None = Field(default=None, alias="known within")

    @model_validator(mode="after")
    def _is_known_somehow(self) -> GroupEntry:
        if self.known_within is not None and not self.known_to:
            raise ValueError("came 'known within' without 'known to'; expected both, or none")
        return self


class TableAxisEntry(Entry):
    """An axis that moves the part: z of its frame."""

    at: Place
    turned: Turn = (0.0, 0.0, 0.0)
    limits: AngleRange
    speed: TurningSpeed
    acceleration: TurningAcceleration

    @model_validator(mode="after")
    def _limits_rise(self) -> TableAxisEntry:
        if not self.limits[0] < self.limits[1]:
            raise ValueError("came limits that do not rise; expected the lower one first")
        return self


class TurningTableEntry(TableAxisEntry):
    """A turning table for the part, and the axis that tilts it, if there is one."""

    tilt: TableAxisEntry | None = None

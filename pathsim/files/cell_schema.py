"""What ``cell.yaml`` may say."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from pathsim.files.cable_schema import CableEntry
from pathsim.files.contact_schema import StationEntry
from pathsim.files.hoses import HoseEntry
from pathsim.files.process_schema import ProcessEntry
from pathsim.files.program_schema import StepEntry
from pathsim.files.quantities import (
    Entry,
    FormatNumber,
    LengthFromZero,
    Override,
)
from pathsim.files.schedule_schema import ScheduleEntry
from pathsim.files.standing_schema import (
    ArmEntry,
    BodyEntry,
    GroupEntry,
    TorchEntry,
    TurningTableEntry,
)
from pathsim.files.table_layout import TableLayout
from pathsim.files.weave_schema import WeaveEntry
from pathsim.model import ToDo
from pathsim.model.labels import Labels

Rotation = Literal["fixed x-y-z", "intrinsic z-y-x", "z-y-z", "quaternion w-x-y-z"]
_MOST_COLUMNS = 200
#: A column of somebody's table: its heading, or its number from 1.
HeadingOrNumber = Annotated[
    int | str, BeforeValidator(lambda value: value if isinstance(value, int) else str(value))
]


class PointsEntry(Entry):
    """The points file; rotation and frame are due when it holds poses."""

    file: str
    rotation: Rotation | None = None
    frame: str | None = None
    columns: dict[str, HeadingOrNumber] = Field(default_factory=dict)
    separator: Literal["comma", "semicolon", "tab", "space"] | None = None
    decimal: Literal["comma", "point"] | None = None

    @model_validator(mode="after")
    def _can_be_told_apart(self) -> PointsEntry:
        if self.separator == self.decimal == "comma":
            rule = "two different ones: nobody could tell them apart"
            raise ValueError(f"came a comma between values and in numbers; expected {rule}")
        for ours, theirs in self.columns.items():
            if isinstance(theirs, int) and not 1 <= theirs <= _MOST_COLUMNS:
                rule = f"1 to {_MOST_COLUMNS}, counted from the left"
                raise ValueError(f"came column {theirs} for '{ours}'; expected {rule}")
        if len(set(map(str, self.columns.values()))) < len(self.columns):
            raise ValueError("came one column of the table twice; expected each once")
        return self

    @property
    def layout(self) -> TableLayout:
        """How the table is laid out."""
        return TableLayout(self.columns, self.separator, self.decimal)


class MarginsEntry(Entry):
    """Clearance asked for."""

    air: LengthFromZero
    seam: LengthFromZero
    approach: LengthFromZero | None = None


class SheetEntry(Entry):
    """What stands on a first-run sheet beside what was checked."""

    program: str = Field(default="", max_length=60)
    part: str = Field(default="", max_length=60)
    job: str = Field(default="", max_length=60)
    revision: str = Field(default="", max_length=60)
    remarks: list[str] = Field(default_factory=list, max_length=8)

    @property
    def labels(self) -> Labels:
        """The same as the cell keeps it."""
        return Labels(self.program, self.part, self.job, self.revision, tuple(self.remarks))


_BODIES = (
    "bodies: [{name: table, role: table, plate: {length: 1 m, width: 1 m, thickness: 20 mm}, "
    "at: 900 0 700 mm}]"
)
_PROGRAM = "program: [{start: home}, {joint: approach, speed: 40 %}]"


class CellFile(Entry):
    """The whole of ``cell.yaml``."""

    format: FormatNumber
    name: str = Field(min_length=1)
    arm: ArmEntry = Field(examples=["arm: {description: arm.yaml, at: 0 0 500 mm}"])
    torch: TorchEntry = Field(examples=["torch: {description: torch.yaml, wire: 15 mm}"])
    turning_table: TurningTableEntry | None = Field(default=None, alias="turning table")
    groups: dict[str, GroupEntry] = Field(default_factory=dict)
    mesh_folder: str | None = Field(default=None, alias="mesh folder", min_length=1)
    bodies: list[BodyEntry] = Field(examples=[_BODIES])
    assemblies: dict[str, dict[str, list[str]]] = Field(default_factory=dict)
    left_out: dict[str, list[str]] = Field(default_factory=dict, alias="left out")
    cables: list[CableEntry] = Field(default_factory=list)
    points: PointsEntry = Field(examples=["points: {file: points.csv}"])
    margins: MarginsEntry = Field(examples=["margins: {air: 10 mm, seam: 1.5 mm}"])
    override: Override = 0.5
    hoses: dict[str, HoseEntry] = Field(default_factory=dict)
    process: ProcessEntry | None = None
    stations: dict[str, StationEntry] = Field(default_factory=dict)
    weaves: dict[str, WeaveEntry] = Field(default_factory=dict)
    schedules: dict[str, ScheduleEntry] = Field(default_factory=dict)
    subprograms: dict[str, list[StepEntry]] = Field(default_factory=dict)
    program: list[StepEntry] = Field(min_length=2, examples=[_PROGRAM])
    sheet: SheetEntry = Field(default_factory=SheetEntry)
    to_do: list[ToDo] = Field(default_factory=list, alias="to do")

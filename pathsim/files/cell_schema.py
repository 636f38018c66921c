"""What ``cell.yaml`` may say."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from pathsim.files.cable_schema import CableEntry
from pathsim.files.quantities import (
    Amplitude,
    Angle,
    AngleRange,
    Current,
    Entry,
    FormatNumber,
    Frequency,
    LengthFromZero,
    Override,
    Place,
    Speed,
    StickOut,
    Time,
    Turn,
    TurningAcceleration,
    TurningSpeed,
    Unit,
    Up,
    Voltage,
)
from pathsim.files.shape_schema import ShapedEntry, shape_keys
from pathsim.files.table_layout import TableLayout
from pathsim.model import DwellCounts, Pattern, Role, ToDo
from pathsim.model.weave import TravelInDwell

Rotation = Literal["fixed x-y-z", "intrinsic z-y-x", "z-y-z", "quaternion w-x-y-z"]
MOVE_KEYS = ("joint", "linear", "arc", "seam")
#: A stroke in less than this is no weave, s.
_SHORTEST_STROKE = 0.01
#: How far off its part a seam may be said to be, and how long the end of its wire, m.
_LEAST_OFF, _MOST_OFF = 5e-4, 50e-3
_MOST_COLUMNS = 200
#: A column of somebody's table: its heading, or its number from 1.
HeadingOrNumber = Annotated[
    int | str, BeforeValidator(lambda value: value if isinstance(value, int) else str(value))
]
KINDS = ("start", *MOVE_KEYS, "wait")


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
    unit: Unit | None = None
    up: Up | None = None
    at: Place
    turned: Turn = (0.0, 0.0, 0.0)
    on: str | None = None
    known_to: LengthFromZero = Field(default=0.0, alias="known to")
    bears: Literal["arm", "turning table"] | None = None

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
        if self.mesh is not None and self.unit is None:
            raise ValueError("came 'mesh' without 'unit'; expected 'unit: mm', cm, m or in")
        return self

    @model_validator(mode="after")
    def _does_not_bear_itself(self) -> BodyEntry:
        if self.on is not None and self.bears is not None:
            raise ValueError("came 'on' and 'bears'; expected one of them: it turns or it stands")
        return self


class GroupEntry(Entry):
    """Bodies that move together: they name it under ``on``, and are placed in its frame."""

    at: Place
    turned: Turn = (0.0, 0.0, 0.0)
    on: Literal["turning table"] | None = None
    known_to: LengthFromZero = Field(default=0.0, alias="known to")


class TurningTableEntry(Entry):
    """A turning table for the part: its axis is z of its frame."""

    at: Place
    turned: Turn = (0.0, 0.0, 0.0)
    limits: AngleRange
    speed: TurningSpeed
    acceleration: TurningAcceleration

    @model_validator(mode="after")
    def _limits_rise(self) -> TurningTableEntry:
        if not self.limits[0] < self.limits[1]:
            raise ValueError("came limits that do not rise; expected the lower one first")
        return self


class PointsEntry(Entry):
    """The points file; rotation and frame are due when it holds poses."""

    file: str
    rotation: Rotation | None = None
    frame: Literal["base", "world"] | None = None
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


class WeaveEntry(Entry):
    """A weave; ``dwell`` stands for both sides, or each side is given."""

    pattern: Pattern
    amplitude: Amplitude
    frequency: Frequency
    dwell: Time | None = None
    dwell_left: Time | None = Field(default=None, alias="dwell left")
    dwell_right: Time | None = Field(default=None, alias="dwell right")
    dwell_centre: Time = Field(default=0.0, alias="dwell centre")
    dwell_counts: DwellCounts | None = Field(default=None, alias="dwell counts")
    travel_in_dwell: TravelInDwell | None = Field(default=None, alias="travel in dwell")
    tilt: Angle = 0.0

    @property
    def sides(self) -> tuple[float, float]:
        """Dwell left and right, s."""
        both = self.dwell or 0.0
        left = both if self.dwell_left is None else self.dwell_left
        return left, both if self.dwell_right is None else self.dwell_right

    @model_validator(mode="after")
    def _dwell_is_said_once_and_fits(self) -> WeaveEntry:
        left, right = self.sides
        if self.dwell is not None and not (self.dwell_left is None and self.dwell_right is None):
            raise ValueError("came 'dwell' and a side; expected one or the other")
        dwell = left + right + 2 * self.dwell_centre
        if not abs(self.tilt) <= math.radians(60):
            raise ValueError(f"came a tilt of {math.degrees(self.tilt):g} deg; expected up to 60")
        if dwell > 0 and self.dwell_counts is None:
            raise ValueError(
                "came a dwell without 'dwell counts'; expected 'dwell counts: inside' (part of "
                "the cycle) or 'dwell counts: added' (on top of it)"
            )
        if dwell == 0 and (self.dwell_counts is not None or self.travel_in_dwell is not None):
            raise ValueError("came words about a dwell without one; expected a dwell, or no words")
        stroke = (1 / self.frequency - dwell) / 2
        if self.dwell_counts is DwellCounts.INSIDE and 0 < stroke < _SHORTEST_STROKE:
            raise ValueError(
                f"came so much dwell inside the cycle that {stroke * 1e3:.2f} ms are left for a "
                f"stroke; expected at least {_SHORTEST_STROKE * 1e3:g} ms"
            )
        if self.dwell_counts is DwellCounts.INSIDE and dwell >= 1 / self.frequency:
            added = 1 / (1 / self.frequency + dwell)
            centre = f" and twice {self.dwell_centre:g} s" if self.dwell_centre else ""
            raise ValueError(
                f"came {left:g} s and {right:g} s{centre} of dwell inside a cycle of "
                f"{1 / self.frequency:g} s; expected less dwell than cycle, or 'dwell counts: "
                f"added', which gives {added:.1f} cycles a second"
            )
        return self


class ProcessEntry(Entry):
    """What seams are welded with; only notes are made from it."""

    wire_feed: Speed | None = Field(default=None, alias="wire feed")
    voltage: Voltage | None = None
    current: Current | None = None
    efficiency: Override = 0.8
    deposition: Override = 1.0

    @model_validator(mode="after")
    def _says_something(self) -> ProcessEntry:
        if (self.voltage is None) != (self.current is None):
            raise ValueError("came half of voltage and current; expected both")
        if self.wire_feed is None and self.voltage is None:
            raise ValueError("came neither wire feed nor voltage and current; expected some")
        return self


class StepEntry(Entry):
    """One line of the program; exactly one of start, joint, linear, arc, seam and wait."""

    start: str | None = None
    joint: str | None = None
    linear: str | None = None
    arc: str | None = None
    seam: str | None = None
    via: str | None = None
    speed: str | None = None
    weave: str | None = None
    crater: Time | None = None
    joined: bool = False
    wait: Time | None = None
    rounding: LengthFromZero | None = None
    off_part: LengthFromZero | None = Field(default=None, alias="off part")
    wire_end: LengthFromZero | None = Field(default=None, alias="wire end")

    surfacing: bool = False

    @model_validator(mode="after")
    def _is_near_the_part(self) -> StepEntry:
        for name, value in (("off part", self.off_part), ("wire end", self.wire_end)):
            if value is not None and not _LEAST_OFF <= value <= _MOST_OFF:
                raise ValueError(
                    f"came '{name}' of {value * 1e3:g} mm; expected {_LEAST_OFF * 1e3:g} mm to "
                    f"{_MOST_OFF * 1e3:g} mm: more than that is another place, not a gap or groove"
                )
        return self

    @model_validator(mode="after")
    def _times_are_some(self) -> StepEntry:
        for name, value in (("wait", self.wait), ("rounding", self.rounding)):
            if value == 0:
                raise ValueError(f"came '{name}: 0'; expected more than nothing, or no '{name}'")
        return self

    @model_validator(mode="after")
    def _is_one_move(self) -> StepEntry:
        given = [key for key in KINDS if getattr(self, key) is not None]
        if len(given) != 1:
            came = " and ".join(given) if given else "none"
            raise ValueError(f"came {came}; expected one of start, joint, linear, arc, seam, wait")
        kind = given[0]
        if (kind == "arc") and self.via is None:
            raise ValueError("came an arc without 'via'; expected the point it passes")
        allowed = {
            "start": (),
            "joint": ("speed", "rounding"),
            "linear": ("speed", "rounding"),
            "arc": ("speed", "via", "rounding"),
            "seam": (
                "speed",
                "via",
                "weave",
                "crater",
                "joined",
                "off_part",
                "wire_end",
                "surfacing",
            ),
            "wait": (),
        }[kind]
        if self.joined and (self.speed is not None or self.weave is not None):
            raise ValueError("came a speed or weave on a joined seam; expected the one before's")
        extra = [
            key
            for key in (
                "via",
                "speed",
                "weave",
                "crater",
                "joined",
                "rounding",
                "off_part",
                "wire_end",
                "surfacing",
            )
            if getattr(self, key) not in (None, False) and key not in allowed
        ]
        if extra:
            came = extra[0].replace("_", " ")
            raise ValueError(f"came '{came}' on '{kind}'; expected it only where it has a use")
        if kind not in ("start", "wait") and self.speed is None and not self.joined:
            raise ValueError("came no speed; expected 'speed' on every move")
        return self

    @property
    def kind(self) -> str:
        """Return which of the keys is given."""
        return next(k for k in KINDS if getattr(self, k) is not None)

    @property
    def target(self) -> str:
        """Name of the point it goes to."""
        return str(getattr(self, self.kind))


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
    bodies: list[BodyEntry] = Field(examples=[_BODIES])
    cables: list[CableEntry] = Field(default_factory=list)
    points: PointsEntry = Field(examples=["points: {file: points.csv}"])
    margins: MarginsEntry = Field(examples=["margins: {air: 10 mm, seam: 1.5 mm}"])
    override: Override = 0.5
    process: ProcessEntry | None = None
    weaves: dict[str, WeaveEntry] = Field(default_factory=dict)
    program: list[StepEntry] = Field(min_length=2, examples=[_PROGRAM])
    to_do: list[ToDo] = Field(default_factory=list, alias="to do")

"""What ``cell.yaml`` may say."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from pathsim.files.quantities import (
    AngleRange,
    Entry,
    FormatNumber,
    Frequency,
    LengthAboveZero,
    LengthFromZero,
    Place,
    StickOut,
    Time,
    Turn,
    TurningAcceleration,
    TurningSpeed,
    Unit,
    Up,
)
from pathsim.model import DwellCounts, Pattern, Role

Rotation = Literal["fixed x-y-z", "intrinsic z-y-x", "z-y-z", "quaternion w-x-y-z"]
MOVE_KEYS = ("joint", "linear", "arc", "seam")


class ArmEntry(Entry):
    """The arm description and where its base stands in the world."""

    description: str
    at: Place
    turned: Turn = (0.0, 0.0, 0.0)


class TorchEntry(Entry):
    """The torch description and the wire's stick-out."""

    description: str
    wire: StickOut


class BodyEntry(Entry):
    """Something that stands still, or turns with the turning table."""

    name: str = Field(min_length=1)
    role: Role
    mesh: str
    unit: Unit
    up: Up | None = None
    at: Place
    turned: Turn = (0.0, 0.0, 0.0)
    on: Literal["turning table"] | None = None
    bears: Literal["arm", "turning table"] | None = None

    @model_validator(mode="after")
    def _does_not_bear_itself(self) -> BodyEntry:
        if self.on is not None and self.bears is not None:
            raise ValueError("came 'on' and 'bears'; expected one of them: it turns or it stands")
        return self


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


class MarginsEntry(Entry):
    """Clearance asked for."""

    air: LengthFromZero
    seam: LengthFromZero
    approach: LengthFromZero | None = None


class WeaveEntry(Entry):
    """A weave; ``dwell`` stands for both sides, or each side is given."""

    pattern: Pattern
    amplitude: LengthAboveZero
    frequency: Frequency
    dwell: Time | None = None
    dwell_left: Time | None = Field(default=None, alias="dwell left")
    dwell_right: Time | None = Field(default=None, alias="dwell right")
    dwell_counts: DwellCounts | None = Field(default=None, alias="dwell counts")

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
        if left + right > 0 and self.dwell_counts is None:
            raise ValueError(
                "came a dwell without 'dwell counts'; expected 'dwell counts: inside' (part of "
                "the cycle) or 'dwell counts: added' (on top of it)"
            )
        if self.dwell_counts is DwellCounts.INSIDE and left + right >= 1 / self.frequency:
            added = 1 / (1 / self.frequency + left + right)
            raise ValueError(
                f"came {left:g} s and {right:g} s of dwell inside a cycle of "
                f"{1 / self.frequency:g} s; expected less dwell than cycle, or 'dwell counts: "
                f"added', which gives {added:.1f} cycles a second"
            )
        return self


class StepEntry(Entry):
    """One line of the program; exactly one of start, joint, linear, arc and seam."""

    start: str | None = None
    joint: str | None = None
    linear: str | None = None
    arc: str | None = None
    seam: str | None = None
    via: str | None = None
    speed: str | None = None
    weave: str | None = None
    crater: Time | None = None

    @model_validator(mode="after")
    def _is_one_move(self) -> StepEntry:
        given = [key for key in ("start", *MOVE_KEYS) if getattr(self, key) is not None]
        if len(given) != 1:
            came = " and ".join(given) if given else "none"
            raise ValueError(f"came {came}; expected one of start, joint, linear, arc, seam")
        kind = given[0]
        if (kind == "arc") and self.via is None:
            raise ValueError("came an arc without 'via'; expected the point it passes")
        allowed = {
            "start": (),
            "joint": ("speed",),
            "linear": ("speed",),
            "arc": ("speed", "via"),
            "seam": ("speed", "via", "weave", "crater"),
        }[kind]
        extra = [
            key
            for key in ("via", "speed", "weave", "crater")
            if getattr(self, key) is not None and key not in allowed
        ]
        if extra:
            raise ValueError(f"came '{extra[0]}' on '{kind}'; expected it only where it has a use")
        if kind != "start" and self.speed is None:
            raise ValueError("came no speed; expected 'speed' on every move")
        return self

    @property
    def kind(self) -> str:
        """Return which of the five keys is given."""
        return next(k for k in ("start", *MOVE_KEYS) if getattr(self, k) is not None)

    @property
    def target(self) -> str:
        """Name of the point it goes to."""
        return str(getattr(self, self.kind))


class CellFile(Entry):
    """The whole of ``cell.yaml``."""

    format: FormatNumber
    name: str = Field(min_length=1)
    arm: ArmEntry
    torch: TorchEntry
    turning_table: TurningTableEntry | None = Field(default=None, alias="turning table")
    bodies: list[BodyEntry]
    points: PointsEntry
    margins: MarginsEntry
    weaves: dict[str, WeaveEntry] = Field(default_factory=dict)
    program: list[StepEntry] = Field(min_length=2)

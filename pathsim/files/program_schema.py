"""What ``cell.yaml`` may say of the program: its lines and its weaves."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import Field, model_validator

from pathsim.files.process_schema import ProcessEntry
from pathsim.files.quantities import (
    Amplitude,
    Angle,
    Entry,
    Frequency,
    Inch,
    LengthFromZero,
    Place,
    Speed,
    StitchLength,
    Time,
    Turn,
    angle_up_to,
    length_up_to,
)
from pathsim.model import DwellCounts, Pattern
from pathsim.model.bead import LARGEST
from pathsim.model.multipass import FARTHEST_OFF, MOST_LEAN
from pathsim.model.schedule import LONGEST_STEP, STEPS
from pathsim.model.wanted_contact import LONGEST_OVERTRAVEL
from pathsim.model.wanted_position import WantedPosition
from pathsim.model.weave import TravelInDwell

MOVE_KEYS = ("joint", "linear", "arc", "seam", "stitch", "multipass", "tack", "search")
#: How far a search goes on; more is another place.
Overtravel = Annotated[float, length_up_to(LONGEST_OVERTRAVEL)]
#: How far a pass lies off its line, how much it leans, and how large its bead is.
OffLine = Annotated[float, length_up_to(FARTHEST_OFF)]
Lean = Annotated[float, angle_up_to(MOST_LEAN)]
BeadSize = Annotated[float, length_up_to(LARGEST)]
#: What only a touch search says.
SEARCH_KEYS = ("body", "with_", "overtravel", "margin")
KINDS = ("start", *MOVE_KEYS, "run", "wait", "wait_for", "inch")
#: Those without a point of their own: the arm stands, or a subprogram has its own points.
POINTLESS = ("run", "wait", "wait_for", "inch")
#: Keys without which a line of a kind says nothing.
NEEDED = {
    "stitch": ("on", "off", "between"),
    "multipass": ("passes", "between", "lift"),
    "tack": ("time",),
    "search": ("body",),
}
#: Lines of several seams, and between what of them the table would have to keep a position.
PARTS = {"stitch": "from stitch to stitch", "multipass": "from pass to pass"}
#: A stroke in less than this is no weave, s.
_SHORTEST_STROKE = 0.01
#: How far off its part a seam may be said to be, and how long the end of its wire, m.
_LEAST_OFF, _MOST_OFF = 5e-4, 50e-3


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


class ScheduleEntry(Entry):
    """A weld schedule; its feed and volts count in place of the cell's ``process``."""

    preflow: Time = 0.0
    start: Time = 0.0
    ramp: Time = 0.0
    crater: Time = 0.0
    burnback: Time = 0.0
    postflow: Time = 0.0
    process: ProcessEntry | None = None

    @model_validator(mode="after")
    def _steps_are_short(self) -> ScheduleEntry:
        for name in STEPS:
            if getattr(self, name) > LONGEST_STEP:
                raise ValueError(
                    f"came {getattr(self, name):g} s of {name}; expected at most "
                    f"{LONGEST_STEP:g} s; is the unit right?"
                )
        return self


class PassEntry(Entry):
    """One pass of a multipass; ``left`` and ``right`` stand for one number, each lean likewise."""

    name: str = Field(alias="pass", min_length=1)
    left: OffLine | None = None
    right: OffLine | None = None
    up: OffLine | None = None
    down: OffLine | None = None
    lean_left: Lean | None = Field(default=None, alias="lean left")
    lean_right: Lean | None = Field(default=None, alias="lean right")
    lean_ahead: Lean | None = Field(default=None, alias="lean ahead")
    lean_back: Lean | None = Field(default=None, alias="lean back")
    reversed: bool = False
    speed: Speed | None = None
    weave: str | None = None
    crater: Time | None = None
    schedule: str | None = None
    leg: BeadSize | None = None
    height: BeadSize | None = None

    @model_validator(mode="after")
    def _each_way_is_said_once(self) -> PassEntry:
        for one, other in (
            ("left", "right"), ("up", "down"), ("lean_left", "lean_right"),
            ("lean_ahead", "lean_back"), ("leg", "height"),
        ):  # fmt: skip
            if getattr(self, one) is not None and getattr(self, other) is not None:
                words = f"'{one}' and '{other}'".replace("_", " ")
                raise ValueError(f"came {words} on one pass; expected one of them")
        return self

    def signed(self, one: str, other: str) -> float:
        """Return what is said of two opposite ways as one number, the first one's way positive."""
        return (getattr(self, one) or 0.0) - (getattr(self, other) or 0.0)


class StepEntry(Entry):
    """One line of the program; exactly one of the ``KINDS``."""

    start: str | None = None
    joint: str | None = None
    linear: str | None = None
    arc: str | None = None
    seam: str | None = None
    stitch: str | None = None
    multipass: str | None = None
    tack: str | None = None
    search: str | None = None
    run: str | None = None
    via: str | None = None
    speed: str | None = None
    weave: str | None = None
    crater: Time | None = None
    schedule: str | None = None
    joined: bool = False
    wait: Time | None = None
    wait_for: str | None = Field(default=None, alias="wait for", min_length=1)
    at_least: Time | None = Field(default=None, alias="at least")
    inch: Inch | None = None
    times: int | None = Field(default=None, ge=1, le=200)
    shift: Place | None = None
    turned: Turn | None = None
    step: Place | None = None
    step_turned: Turn | None = Field(default=None, alias="step turned")
    frame: str | None = None
    rounding: LengthFromZero | None = None
    off_part: LengthFromZero | None = Field(default=None, alias="off part")
    wire_end: LengthFromZero | None = Field(default=None, alias="wire end")
    surfacing: bool = False
    position: WantedPosition | None = None
    on: StitchLength | None = None
    off: StitchLength | None = None
    between: Speed | None = None
    lift: LengthFromZero | None = None
    passes: tuple[PassEntry, ...] | None = None
    time: Time | None = None
    body: str | None = None
    with_: str | None = Field(default=None, alias="with")
    overtravel: Overtravel | None = None
    margin: LengthFromZero | None = None
    station: str | None = None

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
        for name, value in (
            ("wait", self.wait), ("rounding", self.rounding), ("time", self.time),
            ("lift", self.lift), ("inch", self.inch),
        ):  # fmt: skip
            if value == 0:
                raise ValueError(f"came '{name}: 0'; expected more than nothing, or no '{name}'")
        return self

    @model_validator(mode="after")
    def _is_one_move(self) -> StepEntry:
        given = [key for key in KINDS if getattr(self, key) is not None]
        if len(given) != 1:
            came = " and ".join(given) if given else "none"
            raise ValueError(f"came {came}; expected one of {', '.join(KINDS)}")
        kind = given[0]
        if (kind == "arc") and self.via is None:
            raise ValueError("came an arc without 'via'; expected the point it passes")
        for key in NEEDED.get(kind, ()):
            if getattr(self, key) is None:
                raise ValueError(f"came a {kind} without '{key}'; expected it")
        allowed = {
            "start": (),
            "joint": ("speed", "rounding"),
            "linear": ("speed", "rounding", "station"),
            "arc": ("speed", "via", "rounding"),
            "seam": (
                "speed",
                "via",
                "weave",
                "crater",
                "schedule",
                "joined",
                "off_part",
                "wire_end",
                "surfacing",
                "position",
            ),
            "stitch": (
                "speed",
                "via",
                "weave",
                "crater",
                "schedule",
                "off_part",
                "wire_end",
                "surfacing",
                "on",
                "off",
                "between",
                "lift",
            ),
            "multipass": (
                "speed",
                "via",
                "weave",
                "crater",
                "schedule",
                "off_part",
                "wire_end",
                "surfacing",
                "passes",
                "between",
                "lift",
            ),
            "tack": ("time", "schedule", "off_part", "wire_end", "surfacing"),
            "search": ("speed", "wire_end", *SEARCH_KEYS),
            "run": ("times", "shift", "turned", "step", "step_turned", "frame"),
            "wait": (),
            "wait_for": ("at_least",),
            "inch": ("speed",),
        }[kind]
        if self.joined and any((self.speed, self.weave, self.schedule)):
            raise ValueError(
                "came a speed, weave or schedule on a joined seam; expected the one before's"
            )
        extra = [
            key
            for key in (
                "via",
                "speed",
                "weave",
                "crater",
                "schedule",
                "joined",
                "rounding",
                "off_part",
                "wire_end",
                "surfacing",
                "position",
                "on",
                "off",
                "between",
                "lift",
                "passes",
                "time",
                "station",
                *SEARCH_KEYS,
                "times",
                "shift",
                "turned",
                "step",
                "step_turned",
                "frame",
                "at_least",
            )
            if (value := getattr(self, key)) is not None and value is not False
            if key not in allowed
        ]
        if "position" in extra and kind in PARTS:
            raise ValueError(
                f"came 'position' on a {kind}: the table keeps no position {PARTS[kind]}; "
                "expected a 'seam' with 'position' for each of them"
            )
        if extra:
            came = extra[0].replace("_", " ").strip()
            raise ValueError(f"came '{came}' on '{kind}'; expected it only where it has a use")
        if (
            kind not in ("start", "tack", "run", "wait", "wait_for")
            and self.speed is None
            and not self.joined
        ):
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

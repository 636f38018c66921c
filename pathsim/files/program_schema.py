"""What ``cell.yaml`` may say of the program, line by line."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from pathsim.files.pass_schema import PassEntry
from pathsim.files.quantities import (
    Entry,
    Inch,
    LengthFromZero,
    Place,
    Speed,
    StitchLength,
    Time,
    Turn,
    length_up_to,
)
from pathsim.model.wanted_contact import LONGEST_OVERTRAVEL
from pathsim.model.wanted_position import WantedPosition

MOVE_KEYS = ("joint", "linear", "arc", "seam", "stitch", "multipass", "tack", "search")
#: How far a search goes on; more is another place.
Overtravel = Annotated[float, length_up_to(LONGEST_OVERTRAVEL)]
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
#: How far off its part a seam may be said to be, and how long the end of its wire, m.
_LEAST_OFF, _MOST_OFF = 5e-4, 50e-3


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
        if self.station is not None and self.rounding is not None:
            raise ValueError(
                "came 'rounding' on a move into or out of a station; expected none: the arm stops "
                "at its ends"
            )
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

"""What ``cell.yaml`` may say of one pass of a multipass."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from pathsim.files.quantities import Entry, Speed, Time, angle_up_to, length_up_to
from pathsim.model.bead import LARGEST
from pathsim.model.multipass import FARTHEST_OFF, MOST_LEAN

#: How far a pass lies off its line, how much it leans, and how large its bead is.
OffLine = Annotated[float, length_up_to(FARTHEST_OFF)]
Lean = Annotated[float, angle_up_to(MOST_LEAN)]
BeadSize = Annotated[float, length_up_to(LARGEST)]


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

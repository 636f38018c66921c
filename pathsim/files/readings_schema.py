"""What an arm description may say of how its display counts."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from pathsim.files.quantities import Angle, Entry, Place, Turn


class ReadingEntry(Entry):
    """How the display counts one joint: model = sign x shown + zero + coupling x shown other."""

    joint: int = Field(ge=1, strict=True)
    sign: Literal[1, -1] = 1
    zero: Angle = 0.0
    coupled_to: int | None = Field(default=None, alias="coupled to", ge=1, strict=True)
    coupling: float | None = Field(default=None, ge=-10, le=10)

    @model_validator(mode="after")
    def _coupling_is_whole(self) -> ReadingEntry:
        if (self.coupled_to is None) != (self.coupling is None):
            raise ValueError("came half a coupling; expected 'coupled to' and 'coupling'")
        if self.coupled_to == self.joint:
            raise ValueError("came a joint coupled to itself; expected another joint")
        return self


class ShownFrameEntry(Entry):
    """The frame of the displayed poses in the model's base frame."""

    at: Place
    turned: Turn = (0.0, 0.0, 0.0)


class ReadingsEntry(Entry):
    """What the display shows where it differs from the model.

    ``limits``: whether the joints' limits are those of the model or of what the display counts.
    """

    limits: Literal["of the model", "as displayed"] = "of the model"
    joints: list[ReadingEntry] = Field(default_factory=list)
    poses_from: ShownFrameEntry | None = Field(default=None, alias="poses from")

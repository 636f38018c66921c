"""What ``cell.yaml`` may say of stations, which serve the torch and may be touched by it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from pathsim.files.quantities import Entry, LengthFromZero, StickOut, length_up_to
from pathsim.model.torch import WIRE
from pathsim.model.wanted_contact import DEEPEST, StationKind

#: How far a torch goes into a station; more is another place.
Depth = Annotated[float, length_up_to(DEEPEST)]


class StationEntry(Entry):
    """A body that is a station, under its name."""

    kind: StationKind
    with_: str | None = Field(default=None, alias="with", min_length=1)
    depth: Depth
    margin: LengthFromZero | None = None
    cut_to: StickOut | None = Field(default=None, alias="cut to")
    also: list[str] = Field(default_factory=list)

    @property
    def piece(self) -> str:
        """What of the torch may touch it: of a cleaner the nozzle, else the wire."""
        if self.with_ is not None:
            return self.with_
        return "nozzle" if self.kind is StationKind.CLEANER else WIRE

    @model_validator(mode="after")
    def _cuts_if_it_is_a_cutter(self) -> StationEntry:
        if self.cut_to is not None and self.kind is not StationKind.CUTTER:
            raise ValueError(f"came 'cut to' on a {self.kind}; expected it on a cutter only")
        return self

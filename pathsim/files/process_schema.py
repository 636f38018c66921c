"""What ``cell.yaml`` may say of the welding itself: wire, volts and amperes."""

from __future__ import annotations

from pydantic import Field, model_validator

from pathsim.files.quantities import Current, Entry, Override, Power, Speed, Voltage
from pathsim.model.process import Process


class ProcessEntry(Entry):
    """What seams are welded with; only notes are made from it."""

    wire_feed: Speed | None = Field(default=None, alias="wire feed")
    voltage: Voltage | None = None
    current: Current | None = None
    power: Power | None = None
    crater_feed: Speed | None = Field(default=None, alias="crater feed")
    efficiency: Override = 0.8
    deposition: Override = 1.0

    @model_validator(mode="after")
    def _says_something(self) -> ProcessEntry:
        if (self.voltage is None) != (self.current is None):
            raise ValueError("came half of voltage and current; expected both")
        if self.wire_feed is None and self.voltage is None and self.power is None:
            raise ValueError("came neither wire feed nor voltage and current; expected some")
        if self.crater_feed is not None and self.wire_feed is None:
            raise ValueError("came a crater feed without a wire feed; expected both")
        return self

    @property
    def process(self) -> Process:
        """What it says as a record."""
        return Process(
            self.wire_feed, self.voltage, self.current, self.efficiency, self.deposition,
            self.power, self.crater_feed,
        )  # fmt: skip

"""The weld schedule of a seam: what the welding machine does before, on and behind it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from pathsim.model import sound
from pathsim.model.process import Process

#: Longest time of any of its steps that can be meant, s.
LONGEST_STEP = 600.0
STEPS = ("preflow", "start", "ramp", "crater", "burnback", "postflow")


@dataclass(frozen=True)
class Schedule:
    """Times in s, in their order; in all of them the torch stands still.

    ``preflow``: gas alone, before the arc. ``start``: the arc is on, before the travel. Behind it:
    ``ramp`` down to the crater's values, ``crater`` to fill it, ``burnback`` with the wire feed
    off, all with the arc on; ``postflow``: gas alone. ``process``: feed and volts of this seam, for
    notes; the cell's where it is None. Raises CellError when it cannot be meant.
    """

    name: str
    preflow: float = 0.0
    start: float = 0.0
    ramp: float = 0.0
    crater: float = 0.0
    burnback: float = 0.0
    postflow: float = 0.0
    process: Process | None = None

    def __post_init__(self) -> None:
        of = f"schedule {sound.shown(self.name)}"
        sound.text("schedule: name", self.name)
        for name in STEPS:
            sound.number(f"{of}: {name}", getattr(self, name), "s", low=0.0, high=LONGEST_STEP)
        if self.process is not None:
            sound.record(f"{of}: process", self.process, Process, "a Process or None")

    @property
    def lead(self) -> float:
        """Seconds in which the torch stands before it travels, s."""
        return self.preflow + self.start

    @property
    def arc_behind(self) -> float:
        """Seconds with the arc on behind the travel, s."""
        return self.ramp + self.crater + self.burnback

    def without_end(self) -> Schedule:
        """Return it for a piece that another one goes on from: the arc stays on."""
        return replace(self, ramp=0.0, crater=0.0, burnback=0.0, postflow=0.0)

    def without_start(self) -> Schedule:
        """Return it for a piece that goes on from another one: the arc is on already."""
        return replace(self, preflow=0.0, start=0.0)

    def with_all_of(self, other: Schedule) -> Schedule:
        """Return the whole of which this and another are pieces."""
        return replace(self, **{k: max(getattr(self, k), getattr(other, k)) for k in STEPS})

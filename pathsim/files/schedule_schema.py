"""What ``cell.yaml`` may say of a weld schedule."""

from __future__ import annotations

from pydantic import model_validator

from pathsim.files.process_schema import ProcessEntry
from pathsim.files.quantities import Entry, Time
from pathsim.model.schedule import LONGEST_STEP, STEPS


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

"""Weaves as the cell file names them on lines of the program."""

from __future__ import annotations

from pathsim.files.cell_schema import CellFile
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.weave_schema import WeaveEntry
from pathsim.files.yaml_source import YamlSource
from pathsim.model import DwellCounts, Weave
from pathsim.model.weave import TravelInDwell


def weave_of(
    name: str, file: CellFile, source: YamlSource, at: tuple[int | None, str], faults: FaultList
) -> Weave | None:
    """Return the weave that a line or a pass names; None after noting that there is none."""
    entry = file.weaves.get(name)
    if entry is not None:
        return _weave(name, entry)
    (line, key), cure = at, did_you_mean(name, file.weaves)
    came = f"no weave is called '{name}'"
    faults.add(source.shown, line, f"{key}.weave", came, "a name under 'weaves'", cure)
    return None


def _weave(name: str, entry: WeaveEntry) -> Weave:
    left, right = entry.sides
    counts = entry.dwell_counts or DwellCounts.ADDED
    travel = entry.travel_in_dwell or TravelInDwell.GOES_ON
    return Weave(
        name, entry.pattern, entry.amplitude, entry.frequency, left, right, counts,
        entry.dwell_centre, travel, entry.tilt,
    )  # fmt: skip

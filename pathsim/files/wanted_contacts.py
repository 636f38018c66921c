"""Searches and stations of a cell file, held against the bodies and the torch that are there."""

from __future__ import annotations

from collections.abc import Sequence

from pathsim.files.cell_schema import CellFile
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.program_schema import StepEntry
from pathsim.files.yaml_source import YamlSource
from pathsim.model.torch import WIRE
from pathsim.model.wanted_contact import Search, Station


def search_of(step: StepEntry) -> Search | None:
    """Return what a line of the program looks for; None where it is no search."""
    if step.kind != "search" or step.body is None:
        return None
    return Search(step.body, step.with_ or WIRE, step.overtravel or 0.0, step.margin)


def read_stations(file: CellFile) -> tuple[Station, ...]:
    """Return the stations of a cell file."""
    return tuple(
        Station(
            body,
            entry.kind,
            entry.piece,
            entry.depth,
            entry.margin,
            entry.cut_to,
            tuple(entry.also),
        )
        for body, entry in file.stations.items()
    )


def require_wanted(
    file: CellFile, source: YamlSource, pieces: Sequence[str] | None, faults: FaultList
) -> None:
    """Note each search and station that names a body or a piece of the torch that is not there.

    ``pieces``: names of what the torch has, None when it could not be read.
    """
    bodies = [body.name for body in file.bodies]

    def known(location: tuple[str | int, ...], key: str, name: str, names: Sequence[str],
              what: str) -> None:  # fmt: skip
        if name not in names:
            came, cure = f"no {what} is called '{name}'", did_you_mean(name, names)
            rule = f"one of: {', '.join(names)}" if names else f"a {what}"
            faults.add(source.shown, source.line(location), key, came, rule, cure)

    for body, entry in file.stations.items():
        at, key = ("stations", body), f"stations.{body}"
        for name in (body, *entry.also):
            known(at, key, name, bodies, "body")
        if len({body, *entry.also}) <= len(entry.also):
            came, rule = "one body of it is named twice", "each once"
            faults.add(source.shown, source.line(at), f"{key}.also", came, rule)
        if pieces is not None:
            known(at, f"{key}.with", entry.piece, pieces, "piece of the torch")
    for index, step in enumerate(file.program):
        place, key = ("program", index), f"program[{index + 1}]"
        if step.station is not None:
            known(place, f"{key}.station", step.station, list(file.stations), "station")
        if step.body is not None:
            known(place, f"{key}.body", step.body, bodies, "body")
            if pieces is not None:
                known(place, f"{key}.with", step.with_ or WIRE, pieces, "piece of the torch")

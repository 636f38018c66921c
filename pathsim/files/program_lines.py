"""Lines of the program that are several moves, and pauses: read from the cell file, and written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pathsim.errors import UnitError
from pathsim.files.cell_schema import CellFile
from pathsim.files.exact_numbers import text
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.frames import BASE, WORLD
from pathsim.files.passes import said_of_passes
from pathsim.files.program_schema import StepEntry
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Move
from pathsim.model.multipass import Multipass
from pathsim.model.pause import Pause
from pathsim.model.run import Run, Shift
from pathsim.model.stitch import Stitch
from pathsim.model.written import Line
from pathsim.units import parse, units_of

#: Where a line stands: its line in the file, and its key.
At = tuple[int | None, str]


def as_stitch(step: StepEntry, seam: Move) -> Move:
    """Return a stitch as the one move that its cell lays out."""
    return Stitch(seam, step.on or 0.0, step.off or 0.0, step.between or 0.0, step.lift or 0.0).move


def as_run(
    step: StepEntry,
    known: Mapping[str, tuple[Move, ...]],
    file: CellFile,
    source: YamlSource,
    at: At,
    faults: FaultList,
) -> Move | None:
    """Return a run of a subprogram as the one move that its cell lays out; None after a fault."""
    name, (line, key) = step.target, at
    if name not in file.subprograms:
        came, cure = f"no subprogram is called '{name}'", did_you_mean(name, file.subprograms)
        faults.add(source.shown, line, key, came, "a name under 'subprograms'", cure)
        return None
    frames = [WORLD, BASE, *file.groups, *(body.name for body in file.bodies)]
    frame = WORLD if step.frame is None else step.frame
    if frame not in frames:
        came, cure = f"'{frame}'", did_you_mean(frame, frames)
        rule = f"{WORLD}, {BASE}, or the name of a group or body"
        faults.add(source.shown, line, f"{key}.frame", came, rule, cure)
        return None
    shift = Shift(step.shift or _NOT, step.turned or _NOT)
    once_more = Shift(step.step or _NOT, step.step_turned or _NOT)
    times = step.times or 1
    if frame != WORLD and shift.is_none and once_more.is_none:
        faults.add(source.shown, line, key, "came a frame and no shift", "both, or none of them")
        return None
    if not once_more.is_none and times == 1:
        came = "came a step for one run"
        faults.add(source.shown, line, key, came, "'times: 2' or more, or 'shift' in its place")
        return None
    if name not in known:
        return None  # what is wrong with it has been said
    return Run(name, known[name], times, shift, once_more, frame, line=line).move


_NOT = (0.0, 0.0, 0.0)


def as_pause(step: StepEntry, source: YamlSource, at: At, faults: FaultList) -> Pause | None:
    """Return a signal that is waited for, or wire that is inched; None after a fault."""
    if step.wait_for is not None:
        return Pause(step.at_least or 0.0, wait_for=step.wait_for)
    line, key = at
    try:
        (speed,) = parse(step.speed, "speed")
    except UnitError as error:
        rule = f"a number and a unit ({units_of('speed')})"
        faults.add(source.shown, line, f"{key}.speed", str(error), rule)
        return None
    inch = step.inch or 0.0
    if not 1e-4 <= speed <= 1.0:
        came, rule = f"came '{step.speed}'", "0.1 mm/s to 1 m/s of wire"
        faults.add(source.shown, line, f"{key}.speed", came, rule)
        return None
    return Pause(abs(inch) / speed, inch=inch)


def waiting(move: Move, seconds: float, pauses: tuple[Pause, ...] = ()) -> Move:
    """Return a move, or a line of several that is still one, with more standing behind it."""
    if move.written is None:
        return move.waiting(seconds, pauses)
    return move.written.said.waiting(seconds, pauses).move


def is_run(move: Move) -> bool:
    """Tell whether a move stands for a run of a subprogram."""
    return move.written is not None and isinstance(move.written.said, Run)


def seam_of(line: Line) -> Move:
    """Return the seam that a line is about."""
    assert isinstance(line, Stitch | Multipass)  # noqa: S101 - runs are none
    return line.seam


def said_of(line: Line, entry: dict[str, Any]) -> dict[str, Any]:
    """Return what the cell file says of a line, from what it says of its seam."""
    if isinstance(line, Multipass):
        return said_of_passes(line, entry)
    if isinstance(line, Stitch):
        entry = {"stitch" if key == "seam" else key: value for key, value in entry.items()}
        entry |= {"on": f"{text(line.on)} m", "off": f"{text(line.off)} m"}
        entry["between"] = f"{text(line.between)} m/s"
        if line.lift:
            entry["lift"] = f"{text(line.lift)} m"
    return entry


def run_entry(run: Run) -> dict[str, Any]:
    """Return a run of a subprogram as a line of the program."""
    entry: dict[str, Any] = {"run": run.name}
    if run.times > 1:
        entry["times"] = run.times
    for key, values, unit in (
        ("shift", run.shift.by, "m"),
        ("turned", run.shift.turned, "rad"),
        ("step", run.step.by, "m"),
        ("step turned", run.step.turned, "rad"),
    ):
        if any(values):
            entry[key] = " ".join(text(value) for value in values) + f" {unit}"
    if run.frame != WORLD:
        entry["frame"] = run.frame
    return entry


def standing_entries(wait: float, pauses: tuple[Pause, ...]) -> list[dict[str, Any]]:
    """Return what the arm stands for behind a line, as lines of the program."""
    entries: list[dict[str, Any]] = []
    plain = wait - sum(pause.seconds for pause in pauses)
    if plain > _NO_TIME:
        entries.append({"wait": f"{text(plain)} s"})
    for pause in pauses:
        if pause.wait_for:
            entries.append({"wait for": pause.wait_for, "at least": f"{text(pause.seconds)} s"})
        else:
            speed = abs(pause.inch) / pause.seconds
            entries.append({"inch": f"{text(pause.inch)} m", "speed": f"{text(speed)} m/s"})
    return entries


_NO_TIME = 1e-12

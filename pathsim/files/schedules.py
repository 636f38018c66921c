"""Weld schedules: of a line of the program as the cell file names them, and written to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from pathsim.files.exact_numbers import text
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.named_once import in_cells_order
from pathsim.files.program_schema import StepEntry
from pathsim.files.schedule_schema import ScheduleEntry
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Cell, Move
from pathsim.model.process import Process
from pathsim.model.schedule import STEPS, Schedule


def with_schedule(
    step: StepEntry,
    move: Move,
    known: Mapping[str, ScheduleEntry],
    source: YamlSource,
    at: tuple[int | None, str],
    faults: FaultList,
) -> Move | None:
    """Return a seam with the schedule that its line names; None after noting a fault."""
    if step.schedule is None:
        return move
    schedule = schedule_of(step.schedule, known, source, at, faults)
    if schedule is None:
        return None
    if move.crater and schedule.crater and not move.tack and step.kind != "multipass":
        (line, key), came = at, f"came 'crater: {move.crater:g} s' on a line whose schedule has one"
        faults.add(source.shown, line, f"{key}.schedule", came, "the crater time in one place")
        return None
    arc_on = schedule.start + schedule.arc_behind
    if move.tack and arc_on > move.crater + 1e-9:
        (line, key), came = at, f"came 'time: {move.crater:g} s'"
        rule = f"at least the {arc_on:g} s of the schedule's start, ramp, crater and burnback"
        cure = "Of a tack they lie within its time."
        faults.add(source.shown, line, f"{key}.time", came, rule, cure)
        return None
    return replace(move, schedule=schedule)


def schedule_of(
    name: str,
    known: Mapping[str, ScheduleEntry],
    source: YamlSource,
    at: tuple[int | None, str],
    faults: FaultList,
) -> Schedule | None:
    """Return the schedule that a line or a pass names; None after noting that there is none."""
    (line, key), entry = at, known.get(name)
    if entry is None:
        came, cure = f"no schedule is called '{name}'", did_you_mean(name, known)
        faults.add(source.shown, line, f"{key}.schedule", came, "a name under 'schedules'", cure)
        return None
    process = None if entry.process is None else entry.process.process
    times = {step: getattr(entry, step) for step in STEPS}
    return Schedule(name, **times, process=process)


def handed_on(before: Move, move: Move) -> tuple[Move, Move]:
    """Divide the schedule of a seam between a piece and the one that goes on from it."""
    whole = before.schedule
    if whole is None:
        return before, move
    return (
        replace(before, schedule=whole.without_end()),
        replace(move, schedule=whole.without_start()),
    )


def schedules_document(cell: Cell) -> dict[str, dict[str, Any]]:
    """Return all schedules by name. The cell knows those alone that a seam has."""
    known: dict[str, Schedule] = {}
    for move in cell.program.moves:
        own = move.schedule
        if own is not None:
            known[own.name] = own.with_all_of(known.get(own.name, own))
    ordered = in_cells_order(cell.schedules, known, "no seam has the schedule")
    return {name: _schedule(one) for name, one in ordered.items()}


def _schedule(schedule: Schedule) -> dict[str, Any]:
    return {k: f"{text(getattr(schedule, k))} s" for k in STEPS if getattr(schedule, k)}


def own_processes(cell: Cell) -> dict[str, Process]:
    """Return feed and volts of those schedules that have their own, by name."""
    found = (move.schedule for move in cell.program.moves if move.schedule is not None)
    return {one.name: one.process for one in found if one.process is not None}

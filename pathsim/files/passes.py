"""A seam in several passes: read from a line of the cell file, and written to it."""

from __future__ import annotations

from typing import Any

from pathsim.files.cell_schema import CellFile
from pathsim.files.exact_numbers import text
from pathsim.files.faults import FaultList
from pathsim.files.pass_schema import PassEntry
from pathsim.files.program_schema import StepEntry
from pathsim.files.schedules import schedule_of
from pathsim.files.weaves import weave_of
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Move
from pathsim.model.multipass import LEAST_LIFT, MOST_PASSES, Multipass, Pass

#: By a pass's field the keys of its two ways, and their unit.
_WAYS = {
    "left": ("left", "right", "m"),
    "up": ("up", "down", "m"),
    "lean_left": ("lean left", "lean right", "rad"),
    "lean_ahead": ("lean ahead", "lean back", "rad"),
}


def as_multipass(
    step: StepEntry,
    seam: Move,
    file: CellFile,
    source: YamlSource,
    at: tuple[int | None, str],
    faults: FaultList,
) -> Move | None:
    """Return a seam in several passes as the one move that its cell lays out; None if faulty."""
    (line, key), entries = at, step.passes or ()
    before = len(faults)
    if not 1 <= len(entries) <= MOST_PASSES:
        came, rule = f"{len(entries)} passes", f"1 to {MOST_PASSES} of them"
        faults.add(source.shown, line, f"{key}.passes", came, rule)
    names = [entry.name for entry in entries]
    for name in dict.fromkeys(name for name in names if names.count(name) > 1):
        came = f"{names.count(name)} passes are called '{name}'"
        faults.add(source.shown, line, f"{key}.passes", came, "a name of its own for each pass")
    if (step.lift or 0.0) < LEAST_LIFT:
        rule = f"at least {LEAST_LIFT * 1e3:g} mm: the beads stand in the way"
        faults.add(source.shown, line, f"{key}.lift", "a lift of next to nothing", rule)
    passes = [
        _pass(entry, seam, file, source, (line, f"{key}.passes[{number}]"), faults)
        for number, entry in enumerate(entries, 1)
    ]
    known = [one for one in passes if one is not None]
    if len(faults) > before or len(known) < len(passes):
        return None
    return Multipass(seam, tuple(known), step.between or 0.0, step.lift or 0.0).move


def _pass(
    entry: PassEntry,
    seam: Move,
    file: CellFile,
    source: YamlSource,
    at: tuple[int | None, str],
    faults: FaultList,
) -> Pass | None:
    before, weave, schedule = len(faults), None, None
    if entry.weave is not None:
        weave = weave_of(entry.weave, file, source, at, faults)
    if entry.schedule is not None:
        schedule = schedule_of(entry.schedule, file.schedules, source, at, faults)
    if len(faults) > before:
        return None
    ways = {name: entry.signed(one.replace(" ", "_"), other.replace(" ", "_"))
            for name, (one, other, _) in _WAYS.items()}  # fmt: skip
    found = Pass(
        entry.name, **ways, reversed=entry.reversed, speed=entry.speed, weave=weave,
        crater=entry.crater, schedule=schedule, leg=entry.leg, height=entry.height,
    )  # fmt: skip
    of_seam = found.of_seam(seam)
    if of_seam.crater and of_seam.schedule is not None and of_seam.schedule.crater:
        came = f"came 'crater: {of_seam.crater:g} s' on a pass whose schedule has one"
        faults.add(source.shown, *at, came, "the crater time in one place")
        return None
    return found


def said_of_passes(line: Multipass, entry: dict[str, Any]) -> dict[str, Any]:
    """Return what the cell file says of a seam in several passes, from what it says of its seam."""
    entry = {"multipass" if key == "seam" else key: value for key, value in entry.items()}
    entry["between"] = f"{text(line.between)} m/s"
    entry["lift"] = f"{text(line.lift)} m"
    return entry | {"passes": [_said(one) for one in line.passes]}


def _said(one: Pass) -> dict[str, Any]:
    entry: dict[str, Any] = {"pass": one.name}
    for name, (way, other, unit) in _WAYS.items():
        value = getattr(one, name)
        if value:
            entry[way if value > 0 else other] = f"{text(abs(value))} {unit}"
    if one.reversed:
        entry["reversed"] = True
    if one.speed is not None:
        entry["speed"] = f"{text(one.speed)} m/s"
    for key, named in (("weave", one.weave), ("schedule", one.schedule)):
        if named is not None:
            entry[key] = named.name
    for key, value, unit in (
        ("crater", one.crater, "s"), ("leg", one.leg, "m"), ("height", one.height, "m"),
    ):  # fmt: skip
        if value is not None:
            entry[key] = f"{text(value)} {unit}"
    return entry

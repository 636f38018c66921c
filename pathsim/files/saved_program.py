"""The program of a cell, its subprograms and weaves, as lines of the ``cell.yaml``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from pathsim.errors import CannotCheck
from pathsim.files.exact_numbers import before_scaling, text
from pathsim.files.named_once import in_cells_order
from pathsim.files.program_lines import run_entry, said_of, seam_of, standing_entries
from pathsim.model import Cell, DwellCounts, Move, MoveKind, Weave
from pathsim.model.laid_out import lines_of
from pathsim.model.move import OFF_PART, WIRE_END
from pathsim.model.run import Run
from pathsim.model.weave import TravelInDwell


def weaves_document(cell: Cell) -> dict[str, Any]:
    """Return all weaves by name. The cell knows those alone that a seam has."""
    known: dict[str, Weave] = {}
    for move in cell.program.moves:
        weave = move.weave
        if weave is None:
            continue
        if known.setdefault(weave.name, weave) != weave:
            raise CannotCheck(f"two weaves are called {weave.name!r}; give each its own name")
    ordered = in_cells_order(cell.weaves, known, "no seam has the weave")
    return {name: _weave(one) for name, one in ordered.items()}


def _weave(weave: Weave) -> dict[str, Any]:
    entry: dict[str, Any] = {
        "pattern": str(weave.pattern),
        "amplitude": f"{text(weave.amplitude)} m",
        "frequency": f"{text(weave.frequency)} Hz",
    }
    for name in ("dwell_left", "dwell_right", "dwell_centre"):
        if getattr(weave, name):
            entry[name.replace("_", " ")] = f"{text(getattr(weave, name))} s"
    if weave.dwell or weave.dwell_counts is not DwellCounts.ADDED:
        entry["dwell counts"] = str(weave.dwell_counts)
    if weave.travel_in_dwell is not TravelInDwell.GOES_ON:
        entry["travel in dwell"] = str(weave.travel_in_dwell)
    if weave.tilt:
        entry["tilt"] = f"{text(weave.tilt)} rad"
    return entry


def program_document(cell: Cell) -> list[dict[str, Any]]:
    """Return the lines of a cell's program, its start first."""
    steps: list[dict[str, Any]] = [{"start": cell.program.start}]
    return [*steps, *_lines(lines_of(cell.program))]


def _lines(lines: Sequence[Move]) -> list[dict[str, Any]]:
    steps: list[dict[str, Any]] = []
    for before, one in zip((None, *lines), lines, strict=False):
        run = None if one.written is None else one.written.said
        if isinstance(run, Run):
            steps += [run_entry(run), *standing_entries(run.wait, run.pauses)]
            continue
        move = one if one.written is None else seam_of(one.written.said)
        entry = _step(before, move)
        steps.append(entry if one.written is None else said_of(one.written.said, entry))
        steps += standing_entries(move.wait, move.pauses)
    return steps


def subprograms_document(cell: Cell) -> dict[str, list[dict[str, Any]]]:
    """Return all subprograms by name. The cell knows those alone that it runs."""
    known: dict[str, tuple[Move, ...]] = {}
    for line in lines_of(cell.program):
        run = None if line.written is None else line.written.said
        if isinstance(run, Run) and known.setdefault(run.name, run.lines) != run.lines:
            raise CannotCheck(f"two subprograms are called {run.name!r}; give each its own name")
    ordered = in_cells_order(cell.subprograms, known, "nothing runs the subprogram")
    return {name: _lines(one) for name, one in ordered.items()}


def _step(before: Move | None, move: Move) -> dict[str, Any]:
    """Return a move as a line of the program; a joined seam says what is new alone."""
    # A station's move is a straight one that says so.
    label = move.label if move.station is None else str(move.kind)
    entry: dict[str, Any] = {label: move.target}
    if move.via is not None:
        entry["via"] = move.via
    if move.joined:
        entry["joined"] = True
    elif move.tack:
        entry["time"] = f"{text(move.crater)} s"
    elif move.kind is MoveKind.JOINT:
        entry["speed"] = share(move.speed)
    else:
        entry["speed"] = f"{text(move.speed)} m/s"
    if move.weave is not None and not move.joined:
        entry["weave"] = move.weave.name
    if move.schedule is not None and not move.joined:
        entry["schedule"] = move.schedule.name
    for name, usual in (("crater", 0.0), ("rounding", 0.0)):
        if getattr(move, name) != usual and not move.tack:
            entry[name] = f"{text(getattr(move, name))} {'s' if name == 'crater' else 'm'}"
    # What a joined seam does not say it has from the one before.
    usual_off = before.off_part if move.joined and before else OFF_PART
    usual_end = before.wire_end if move.joined and before else WIRE_END
    for key, value, usual in (
        ("off part", move.off_part, usual_off), ("wire end", move.wire_end, usual_end),
    ):  # fmt: skip
        if value != usual:
            entry[key] = f"{text(value)} m"
    others = {"position": move.position and str(move.position), "surfacing": move.surfacing}
    entry |= {key: value for key, value in others.items() if value}
    return entry | _wanted(move)


def _wanted(move: Move) -> dict[str, Any]:
    """Return what a line says of the contact that it is there for."""
    if move.station is not None:
        return {"station": move.station}
    search = move.search
    if search is None:
        return {}
    entry = {"body": search.body, "with": search.piece}
    if search.overtravel:
        entry["overtravel"] = f"{text(search.overtravel)} m"
    if search.margin is not None:
        entry["margin"] = f"{text(search.margin)} m"
    return entry


def share(value: float) -> str:
    """Return a share as a cell file says it, in percent."""
    return f"{text(before_scaling(np.array(value), 0.01))} %"

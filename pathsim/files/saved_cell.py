"""A cell as the ``cell.yaml`` that brings it back."""

from __future__ import annotations

from typing import Any

import numpy as np

from pathsim.errors import CannotCheck
from pathsim.files.cell_differences import ROUNDED
from pathsim.files.exact_numbers import text
from pathsim.files.hoses import hoses_document
from pathsim.files.mesh_writer import MeshFolder
from pathsim.files.saved_arm import placed
from pathsim.files.saved_points import FRAME, ROTATION
from pathsim.files.saved_program import (
    program_document,
    share,
    subprograms_document,
    weaves_document,
)
from pathsim.files.schedules import own_processes, schedules_document
from pathsim.model import (
    Body,
    Cable,
    Cell,
    Group,
    TiltAxis,
    TurningTable,
)
from pathsim.model.labels import Labels
from pathsim.model.process import Process
from pathsim.model.wanted_contact import Station
from pathsim.transforms import frozen, inverse


def cell_document(cell: Cell, meshes: MeshFolder) -> dict[str, Any]:
    """Return what ``cell.yaml`` says of a cell; raises CannotCheck for what it cannot."""
    document: dict[str, Any] = {
        "format": 1,
        "name": cell.name,
        "arm": {"description": "arm.yaml", **placed(cell.T_world_base, "the arm's place")},
        "torch": {"description": "torch.yaml", "wire": f"{text(cell.torch.wire_length)} m"},
    }
    if cell.table is not None:
        document["turning table"] = _axis(cell.table, "the turning table")
        if cell.table.tilt is not None:
            document["turning table"]["tilt"] = _axis(cell.table.tilt, "the tilt axis")
    if cell.groups:
        document["groups"] = {group.name: _group(group) for group in cell.groups}
    document["bodies"] = [_body(cell, body, meshes) for body in cell.bodies]
    document |= _assemblies(cell)
    if cell.cables:
        document["cables"] = [_cable(cell, cable) for cable in cell.cables]
    has_poses = any(p.T_base_tcp is not None and not p.derived for p in cell.points.values())
    document["points"] = {"file": "points.csv"}
    if has_poses:
        document["points"] |= {"rotation": ROTATION, "frame": FRAME}
    margins = cell.margins
    document["margins"] = {
        name: f"{text(getattr(margins, name))} m" for name in ("air", "seam", "approach")
    }
    document["override"] = share(cell.override)
    document |= hoses_document(cell.hoses, cell.arm)
    if cell.process is not None:
        document["process"] = _process(cell.process)
    if cell.stations:
        document["stations"] = {station.body: _station(station) for station in cell.stations}
    weaves = weaves_document(cell)
    if weaves:
        document["weaves"] = weaves
    schedules = schedules_document(cell)
    if schedules:
        document["schedules"] = schedules
    for name, of_own in own_processes(cell).items():
        document["schedules"][name]["process"] = _process(of_own)
    subprograms = subprograms_document(cell)
    if subprograms:
        document["subprograms"] = subprograms
    document["program"] = program_document(cell)
    document |= _labels(cell.labels)
    if cell.to_do:
        document["to do"] = [str(one) for one in cell.to_do]
    return document


def _axis(axis: TiltAxis | TurningTable, of: str) -> dict[str, Any]:
    return {
        **placed(axis.T_world_axis, of),
        "limits": f"{text(np.array([axis.lower, axis.upper]))} rad",
        "speed": f"{text(axis.speed)} rad/s",
        "acceleration": f"{text(axis.acceleration)} rad/s2",
    }


def _assemblies(cell: Cell) -> dict[str, Any]:
    """Return which parts of which files were used, and which were not: that stays known."""
    entry = {one.file: {name: list(who) for name, who in one.parts} for one in cell.assemblies}
    meant = {one.file: list(one.meant) for one in cell.assemblies if one.meant}
    return ({"assemblies": entry} if entry else {}) | ({"left out": meant} if meant else {})


def _labels(labels: Labels) -> dict[str, Any]:
    entry: dict[str, Any] = {word.lower(): text for word, text in labels.rows}
    if labels.remarks:
        entry["remarks"] = list(labels.remarks)
    return {"sheet": entry} if entry else {}


def _group(group: Group) -> dict[str, Any]:
    entry = placed(group.T_world_group, f"group {group.name!r}")
    if group.stands_on.is_carried:
        entry["on"] = group.stands_on.word
    if group.known_to > 0:
        entry["known to"] = f"{text(group.known_to)} m"
        if group.known_within is not None:
            low, high = (f"{text(corner)} m" for corner in group.known_within)
            entry["known within"] = {"from": low, "to": high}
    elif group.known_within is not None:
        raise CannotCheck(f"the group {group.name!r} has 'known_within' without 'known_to'")
    return entry


def _body(cell: Cell, body: Body, meshes: MeshFolder) -> dict[str, Any]:
    unit = body.unit or "m"
    group = next((one for one in cell.groups if one.name == body.group), None)
    T, known_to = body.T_world_body, body.known_to
    if group is not None:
        # In the file the group's share is said once, at the group.
        T = frozen(inverse(group.T_world_group) @ T)
        known_to = max(known_to - group.known_to, 0.0)
    entry: dict[str, Any] = {
        "name": body.name,
        "role": str(body.role),
        "mesh": meshes.put(body.name, body.mesh, unit),
        "unit": unit,
        **placed(T, f"body {body.name!r}"),
    }
    if group is not None:
        entry["on"] = group.name
    elif body.is_carried:
        entry["on"] = body.stands_on.word
    if known_to > ROUNDED:
        entry["known to"] = f"{text(known_to)} m"
    if body.drawn_to > 0:
        entry["drawn to"] = f"{text(body.drawn_to)} m"
    if body.bears is not None:
        entry["bears"] = body.bears
    return entry


def _cable(cell: Cell, cable: Cable) -> dict[str, Any]:
    entry: dict[str, Any] = {
        "name": cable.name,
        "on": "torch" if cable.link == cell.arm.dof else cell.link_name(cable.link),
        "points": [f"{text(point)} m" for point in cable.points],
        "radius": f"{text(cable.radius)} m",
    }
    for name in ("slack", "margin"):
        if getattr(cable, name) is not None:
            entry[name] = f"{text(getattr(cable, name))} m"
    return entry


def _process(process: Process) -> dict[str, Any]:
    entry: dict[str, Any] = {}
    units = {"wire_feed": "m/s", "voltage": "V", "current": "A", "power": "W", "crater_feed": "m/s"}
    for name, unit in units.items():
        value = getattr(process, name)
        if value is not None:
            entry[name.replace("_", " ")] = f"{text(value)} {unit}"
    entry["efficiency"] = share(process.efficiency)
    entry["deposition"] = share(process.deposition)
    return entry


def _station(station: Station) -> dict[str, Any]:
    entry: dict[str, Any] = {
        "kind": str(station.kind),
        "with": station.piece,
        "depth": f"{text(station.depth)} m",
    }
    if station.margin is not None:
        entry["margin"] = f"{text(station.margin)} m"
    if station.cuts_to is not None:
        entry["cut to"] = f"{text(station.cuts_to)} m"
    if station.also:
        entry["also"] = list(station.also)
    return entry

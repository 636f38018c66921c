"""Groups of a cell: bodies that move together, placed in the group's own frame."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from pathsim.files.cell_schema import CellFile
from pathsim.files.faults import FaultList
from pathsim.files.standing_schema import BodyEntry, GroupEntry
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Body, Group
from pathsim.model.groups import TABLE
from pathsim.model.scenery import LEAST_KNOWN
from pathsim.transforms import Array, frozen, pose, rotation_from_angles


def placement(at: tuple[float, float, float], turned: tuple[float, float, float]) -> Array:
    """Pose ``(4, 4)`` from a place in m and turns in rad about the fixed x, then y, then z."""
    return frozen(pose(rotation_from_angles("fixed x-y-z", turned), at))


def standing_place(entry: BodyEntry, groups: Mapping[str, GroupEntry]) -> tuple[Array, bool, float]:
    """``T_world_body``, whether it turns with the table, and how far off it may be, m.

    How well a group is known and how well a body is known in it add up.
    """
    T = placement(entry.at, entry.turned)
    group = groups.get(entry.on or "")
    if group is None:
        return T, entry.on == TABLE, min(entry.known_to, LEAST_KNOWN)
    known_to = min(entry.known_to + group.known_to, LEAST_KNOWN)
    return frozen(placement(group.at, group.turned) @ T), group.on == TABLE, known_to


def read_groups(file: CellFile) -> dict[str, Group]:
    """Return the groups of a cell file by name, those that nothing is wrong with."""
    found = {}
    for name, entry in file.groups.items():
        if name == TABLE or not name.strip():
            continue
        within = entry.known_within
        found[name] = Group(
            name,
            placement(entry.at, entry.turned),
            entry.on == TABLE,
            min(entry.known_to, LEAST_KNOWN),
            None if within is None else np.array([within.low, within.high]),
        )
    return found


def check_reach(body: Body, group: Group, line: int | None, source: YamlSource, faults: FaultList
                ) -> None:  # fmt: skip
    """Note a body that reaches out of the box within which its group was placed."""
    out = group.out_by(body)
    if out > 0:
        came = (
            f"'{body.name}' reaches {out * 1e3:.1f} mm out of the box in which '{group.name}' is "
            f"known to {group.known_to * 1e3:g} mm"
        )
        rule = "all bodies of a group within its 'known within'"
        cure = (
            f"Take 'known to' and 'known within' out of '{group.name}', and place it anew: "
            f"'pathsim place'."
        )
        faults.add(source.shown, line, f"groups.{group.name}.known within", came, rule, cure)


def check_groups(file: CellFile, source: YamlSource, faults: FaultList) -> None:
    """Note names that are taken, tables that are not there, and places that are not known."""
    for name, group in file.groups.items():
        line, key = source.line(("groups", name)), f"groups.{name}"
        if name == TABLE:
            came = f"a group is called '{TABLE}'"
            faults.add(source.shown, line, key, came, "another name: the table's is taken")
        if group.on is not None and file.turning_table is None:
            came = "it names the turning table, which the cell does not have"
            faults.add(source.shown, line, key, came, "'turning table:' in the cell")
    for index, body in enumerate(file.bodies):
        stands_on = file.groups.get(body.on or "")
        total = body.known_to + (0.0 if stands_on is None else stands_on.known_to)
        if total > LEAST_KNOWN:
            came = f"its place is known to {total * 1e3:g} mm only"
            rule = f"{LEAST_KNOWN * 1e3:g} mm or better: place it by touch first"
            line = source.line(("bodies", index))
            faults.add(source.shown, line, f"bodies[{index + 1}].known to", came, rule)
        if stands_on is not None and body.bears is not None:
            came = "'bears' on what stands on a group"
            rule = "'bears' only on what stands by itself"
            line = source.line(("bodies", index))
            faults.add(source.shown, line, f"bodies[{index + 1}].bears", came, rule)

"""Groups of a cell: bodies that move together, placed in the group's own frame."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from pathsim.files.cell_schema import CellFile
from pathsim.files.faults import FaultList
from pathsim.files.standing_schema import BodyEntry, GroupEntry
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Body, Group
from pathsim.model.groups import STANDS
from pathsim.model.scenery import LEAST_KNOWN
from pathsim.model.turning_table import TABLE, TILT_FRAME, StandsOn
from pathsim.transforms import Array, frozen, pose, rotation_from_angles


def placement(at: tuple[float, float, float], turned: tuple[float, float, float]) -> Array:
    """Pose ``(4, 4)`` from a place in m and turns in rad about the fixed x, then y, then z."""
    return frozen(pose(rotation_from_angles("fixed x-y-z", turned), at))


def standing_place(
    entry: BodyEntry, groups: Mapping[str, GroupEntry]
) -> tuple[Array, StandsOn, float]:
    """``T_world_body``, what it stands on, and how far off it may be, m.

    How well a group is known and how well a body is known in it add up.
    """
    T = placement(entry.at, entry.turned)
    group = groups.get(entry.on or "")
    if group is None:
        return T, StandsOn.named(entry.on), min(entry.known_to, LEAST_KNOWN)
    known_to = min(entry.known_to + group.known_to, LEAST_KNOWN)
    return frozen(placement(group.at, group.turned) @ T), StandsOn.named(group.on), known_to


def read_groups(file: CellFile) -> dict[str, Group]:
    """Return the groups of a cell file by name, those that nothing is wrong with."""
    found = {}
    for name, entry in file.groups.items():
        if name in STANDS or not name.strip():
            continue
        within = entry.known_within
        found[name] = Group(
            name,
            placement(entry.at, entry.turned),
            entry.on == TABLE,
            min(entry.known_to, LEAST_KNOWN),
            None if within is None else np.array([within.low, within.high]),
            entry.on == TILT_FRAME,
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
        if name in STANDS:
            came = f"a group is called '{name}'"
            faults.add(source.shown, line, key, came, "another name: the table's is taken")
        check_stand(group.on, file, source, line, key, faults)
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


def check_stand(word: str | None, file: CellFile, source: YamlSource, line: int | None, key: str,
                faults: FaultList) -> None:  # fmt: skip
    """Note the word for a table, or for its tilt, in a cell that has none."""
    table = file.turning_table
    if word in STANDS and table is None:
        came = f"it names the {word}, which the cell does not have"
        faults.add(source.shown, line, key, came, "'turning table:' in the cell")
    elif word == TILT_FRAME and table is not None and table.tilt is None:
        came = "it names the tilt frame, but the cell's table has no tilt axis"
        faults.add(source.shown, line, key, came, "'tilt:' under 'turning table:' in the cell")


def check_bears(entry: BodyEntry, file: CellFile, source: YamlSource, line: int | None, key: str,
                faults: FaultList) -> None:  # fmt: skip
    """Note what bears an axis of the table that does not stand on it."""
    check_stand(entry.bears, file, source, line, key, faults)
    table = file.turning_table
    if entry.bears != TABLE or table is None or table.tilt is None or entry.on == TILT_FRAME:
        return
    came = "it bears the turning table, which stands on a tilt axis"
    rule = "'bears: tilt frame', or 'on: tilt frame' for what moves with the tilt"
    faults.add(source.shown, line, key, came, rule)

"""Writing what readings proved into the files of a cell, comments and all else kept."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from ruamel.yaml.comments import CommentedMap, CommentedSeq

from pathsim.arm import ReadingsMap
from pathsim.errors import CannotCheck, NothingWritten, PathsimError
from pathsim.files.cell_folder import load_cell
from pathsim.files.contents import CELL_FILE, own_folder
from pathsim.files.paths import confined
from pathsim.files.together import change_together
from pathsim.files.yaml_edit import YamlEdit
from pathsim.fit import Candidate, Description
from pathsim.model import Cell
from pathsim.transforms import Array, inverse

#: Limits that differ by less are the same, rad or m.
_SAME_LIMIT = 1e-6

#: A fit to a display of two decimals leaves so much of a zero open, deg.
_ROUNDED = 0.005


def write_candidate(
    folder: Path,
    cell: Cell,
    before: Description,
    candidate: Candidate,
    frame: str,
    is_right: Callable[[Cell], bool],
) -> list[Path]:
    """Write a candidate into the description files; return the files that changed.

    ``frame``: "base" or "world", the frame of the displayed poses. The cell is read as it would
    be and handed to ``is_right``; if it does not load or is not right, CannotCheck is raised. Until
    then no file is touched, and then all of them are changed together.
    """
    folder = own_folder(folder)
    after = candidate.description
    kinds = {thing.kind.split()[0] for thing in candidate.things}
    cell_file = (folder / CELL_FILE).resolve()
    changes: dict[Path, YamlEdit] = {}

    def opened(path: Path) -> YamlEdit:
        if path not in changes:
            changes[path] = YamlEdit(path)
        return changes[path]

    data = opened(cell_file).data
    arm_file = _beside(data["arm"]["description"], folder)
    if kinds & {"sign", "zero", "coupling"}:
        arm_data = opened(arm_file).data
        _set_readings(arm_data, cell, after.arm.readings)
        if limits_were_displayed(arm_data, cell, after.arm.readings):
            arm_data["readings"].insert(0, "limits", "as displayed")
    if "tool" in kinds:
        torch = opened(_beside(data["torch"]["description"], folder)).data
        _set_pose(torch["tool centre point"], after.T_flange_tcp, before.T_flange_tcp)
    if "base" in kinds and frame == "world":
        _set_pose(data["arm"], after.T_shown_base, before.T_shown_base)
    elif "base" in kinds:
        readings = _map_in(opened(arm_file).data, "readings")
        shown = inverse(after.T_shown_base)
        _set_pose(_map_in(readings, "poses from"), shown, None)
    changed = [change for change in changes.values() if change.is_changed]
    texts = {change.path: change.text().encode() for change in changed}
    # Read as it would be, before anything is changed: what is on disk is right at every moment.
    try:
        is_good = is_right(load_cell(folder, instead=texts))
    except PathsimError as error:
        raise CannotCheck(f"the description could not be written: {error}") from error
    if not is_good:
        raise NothingWritten(
            "nothing was written: a description file cannot say this explanation as it was found"
        )
    if any(path.read_bytes() != changes[path].original for path in texts):
        raise NothingWritten("nothing was written: a description was saved by somebody meanwhile")
    change_together(folder.resolve().parent, texts)
    return list(texts)


def _beside(text: str, folder: Path) -> Path:
    path, _ = confined(text, folder.resolve(), folder.resolve().parent)
    if path is None:
        raise CannotCheck(f"'{text}' leads out of the folder that holds the cell")
    return path


def _map_in(data: Any, key: str) -> Any:
    """Return the mapping under a key, made when it is not there."""
    if data.get(key) is None:
        data[key] = CommentedMap()
    return data[key]


def _set_readings(data: Any, cell: Cell, readings: ReadingsMap) -> None:
    """Put a readings map into an arm description; a rail is not part of it."""
    first = 1 if cell.arm.has_rail else 0
    mix, zero = readings.mix[first:, first:], readings.zero[first:]
    before = cell.arm.readings
    now = ReadingsMap(before.mix[first:, first:], before.zero[first:], before.T_base_shown)
    entry = _map_in(data, "readings")
    rows = entry.get("joints")
    if rows is None:
        rows = CommentedSeq()
        entry["joints"] = rows
    for joint in range(len(zero)):
        number = joint + 1
        row = next((r for r in rows if r["joint"] == number), None)
        others = [k for k in np.flatnonzero(mix[joint]) if k != joint]
        if len(others) > 1:
            raise NothingWritten(
                f"nothing was written: joint {number} would be coupled to two joints, which a "
                "description cannot say"
            )
        if np.array_equal(mix[joint], now.mix[joint]) and zero[joint] == now.zero[joint]:
            continue  # this joint is as it was, and so is its row
        if row is None:
            row = CommentedMap({"joint": number})
            row.fa.set_flow_style()
            rows.append(row)
        row["sign"] = int(mix[joint, joint])
        degrees = _plain(float(np.degrees(zero[joint])))
        if degrees:
            row["zero"] = f"{round(degrees, 4):.10g} deg"
        else:
            row.pop("zero", None)
        for key in ("coupled to", "coupling"):
            row.pop(key, None)
        if others:
            factor = float(mix[joint, others[0]])
            row["coupled to"] = int(others[0]) + 1
            row["coupling"] = int(factor) if factor == int(factor) else factor


def _plain(degrees: float) -> float:
    """Return a whole number of degrees where a fit only misses it by what a display rounds away."""
    whole = float(round(degrees))
    return whole if abs(degrees - whole) <= _ROUNDED else round(degrees, 4)


def limits_were_displayed(data: Any, cell: Cell, readings: ReadingsMap) -> bool:
    """Tell whether limits of a description have to count as displayed from now on.

    A data sheet has them as the display counts. While that was the model's count too nobody had to
    say which they are; once the two differ it makes a difference for joints whose limits come out
    otherwise. ``data``: the arm description; ``readings``: as they are to be.
    """
    said = data.get("readings") or {}
    arm = cell.arm
    if "limits" in said or "urdf" in data or not arm.readings.is_identity:
        return False
    low, high = arm.lower, arm.upper
    ends = readings.shown(np.array([low, high]))
    is_other = np.abs(np.sort(ends, axis=0) - [low, high]) > _SAME_LIMIT
    return bool((is_other.any(axis=0) & np.isfinite(low) & np.isfinite(high)).any())


def _set_pose(entry: Any, T: Array, before: Array | None) -> None:
    """Write a pose as place and turns about fixed x, y, z; the turns only where they change."""
    entry["at"] = " ".join(f"{_tidy(v * 1e3)}" for v in T[:3, 3]) + " mm"
    is_turned = before is None or not np.allclose(T[:3, :3], before[:3, :3], atol=1e-12)
    if is_turned:
        entry["turned"] = " ".join(_tidy(np.degrees(v)) for v in _fixed_angles(T)) + " deg"


def _tidy(value: float) -> str:
    text = f"{round(value, 4) + 0.0:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _fixed_angles(T: Array) -> tuple[float, float, float]:
    """Angles about fixed x, then y, then z, of a rotation (``R = Rz Ry Rx``)."""
    R = T[:3, :3]
    y = float(np.arctan2(-R[2, 0], np.hypot(R[0, 0], R[1, 0])))
    if np.hypot(R[0, 0], R[1, 0]) < 1e-9:  # x and z turn about one line: give it all to z
        return 0.0, y, float(np.arctan2(-R[0, 1], R[1, 1]))
    return float(np.arctan2(R[2, 1], R[2, 2])), y, float(np.arctan2(R[1, 0], R[0, 0]))

"""The header of ``points.csv``: which column holds what, in which unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from pathsim.arm import Arm
from pathsim.arm.postures import WORDS
from pathsim.errors import UnitError
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.model import TurningTable
from pathsim.units import factor, units_of

_HEADER = re.compile(
    r"^\s*((?:about\s+)?[a-z]+\d*)\s*(?:[\[(]?\s*([^\])\s]+)\s*[\])]?)?\s*$", re.IGNORECASE
)
PLACE = ("x", "y", "z")
_ANGLES = ("r1", "r2", "r3")
_QUATERNION = ("qw", "qx", "qy", "qz")
#: What a column of rough joint values is called before the joint's own name.
_ABOUT = "about "


@dataclass(frozen=True)
class Column:
    """Where a column stands and the factor to SI."""

    index: int
    kind: str
    scale: float


@dataclass(frozen=True)
class PointsForm:
    """What the cell says about its points: axes, rotation convention and frame of the poses.

    ``axes``: column name and kind ("angle" or "length") of each axis, in a trajectory's order:
    ``rail``, ``j1`` on, ``tilt``, ``table``. ``held``: those of them that a pose comes with.
    """

    axes: tuple[tuple[str, str], ...]
    held: tuple[str, ...]
    rotation: str | None
    frame: str | None

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of the axis columns."""
        return tuple(name for name, _ in self.axes)

    @property
    def about(self) -> dict[str, int]:
        """Return columns of rough joint values, with the joint's index in the arm.

        For joints that turn and that a pose leaves open.
        """
        return {
            about_column(name): index
            for index, (name, kind) in enumerate(self.axes)
            if kind == "angle" and name not in self.held
        }


def points_form(
    arm: Arm, table: TurningTable | None, rotation: str | None, frame: str | None
) -> PointsForm:
    """Return the form of a points file for an arm, with or without a turning table."""
    first = 1 if arm.has_rail else 0
    names = ["rail"] * first + [f"j{i + 1}" for i in range(arm.dof - first)]
    kinds = ["length" if slides else "angle" for slides in arm.prismatic]
    axes = list(zip(names, kinds, strict=True))
    held = [] if arm.held is None else [names[arm.held]]
    own = [] if table is None else ["tilt", "table"][-len(table.axes) :]
    axes += [(name, "angle") for name in own]
    held += own
    return PointsForm(tuple(axes), tuple(held), rotation, frame)


def about_column(axis: str) -> str:
    """Return the name of the column of an axis's rough values."""
    return _ABOUT + axis


def is_quaternion(rotation: str | None) -> bool:
    """Tell whether the rotation convention is the quaternion."""
    return rotation is not None and rotation.startswith("quaternion")


def turn_columns(rotation: str | None) -> tuple[str, ...]:
    """Names of the columns that hold the rotation."""
    return _QUATERNION if is_quaternion(rotation) else _ANGLES


def read_header(
    cells: list[str],
    line: int,
    shown: str,
    form: PointsForm,
    faults: FaultList,
    words: tuple[str, ...] = ("note", "posture"),
) -> dict[str, Column] | None:
    """Read the header; None after a fault. ``words``: columns of text beside the name.

    With ``posture`` among them the file may have rough joint values too.
    """
    joints = form.names
    rough = form.about if "posture" in words else {}
    kinds = dict(form.axes) | dict.fromkeys(PLACE, "length")
    kinds |= dict.fromkeys(_ANGLES, "angle") | dict.fromkeys(_QUATERNION, "")
    kinds |= dict.fromkeys(rough, "angle")
    if not any(_is_known(cell, kinds, words) for cell in cells):
        first = ", ".join(cell.strip() for cell in cells[:3])
        rule = f"headings with units, such as 'name', '{joints[0]} {_unit(form.axes[0][1])}'"
        cure = "Is it another table? Say under 'points' in cell.yaml which 'columns' are which."
        faults.add(shown, line, "", f"no heading is known: '{first}'", rule,
                   cure if "posture" in words else "")  # fmt: skip
        return None
    columns: dict[str, Column] = {}
    seen: dict[str, Column] = {}  # a heading without its unit is there all the same
    sound = True
    for index, cell in enumerate(cells):
        match = _HEADER.match(cell)
        name = " ".join(match.group(1).lower().split()) if match else cell.strip()
        unit = match.group(2) if match else None
        if name == "name" or (name in words and unit is None):
            columns[name] = Column(index, "text", 1.0)
            continue
        if name not in kinds:
            cure = did_you_mean(name, ["name", *words, *kinds])
            axes = ", ".join(joints)
            expected = f"name, {', '.join(words)}, {axes}, x y z, r1 r2 r3, or qw qx qy qz"
            if rough:
                expected += f", or rough joint values such as '{list(rough)[-1]} deg'"
            if name == "branch" and "posture" in words:
                cure = f"the column is now called 'posture', and its words are {WORDS}"
            faults.add(shown, line, f"column {index + 1}", f"came '{cell}'", expected, cure)
            sound = False
            continue
        if name in columns:
            faults.add(shown, line, f"column {index + 1}", f"'{name}' came twice", "it once")
            sound = False
            continue
        seen[name] = Column(index, "number", 1.0)
        try:
            scale = factor(unit or "", kinds[name]) if kinds[name] else 1.0
        except UnitError:
            units = units_of(kinds[name])
            came = f"'{cell.strip()}' has no unit" if unit is None else f"came unit '{unit}'"
            expected = f"'{name}' and a unit ({units})"
            faults.add(shown, line, f"column {index + 1}", came, expected)
            sound = False
            continue
        columns[name] = Column(index, kinds[name] or "number", scale)
    sound = _complete(seen | columns, form, line, shown, faults) and sound
    return columns if sound else None


def _is_known(cell: str, kinds: Mapping[str, str], words: tuple[str, ...]) -> bool:
    """Tell whether a heading is one of ours, with or without its unit."""
    match = _HEADER.match(cell)
    name = " ".join(match.group(1).lower().split()) if match else cell.strip()
    return name == "name" or name in words or name in kinds


def _unit(kind: str) -> str:
    return units_of(kind).split(",")[0]


def _complete(
    columns: dict[str, Column],
    form: PointsForm,
    line: int,
    shown: str,
    faults: FaultList,
) -> bool:
    """Tell whether columns come in whole groups that fit the rotation convention."""
    joints, rotation, frame = form.names, form.rotation, form.frame
    turn = turn_columns(rotation)
    other = _ANGLES if turn is _QUATERNION else _QUATERNION
    pose_columns = (*PLACE, *turn)
    wrong = False
    if "name" not in columns:
        faults.add(shown, line, "", "no column 'name' came", "one that names each point")
        wrong = True
    has_pose = any(name in columns for name in pose_columns)
    for group in (joints, pose_columns):
        have = [name for name in group if name in columns]
        missing = [name for name in group if name not in columns]
        # Poses may come with the values of held axes alone.
        is_held_only = has_pose and group is joints and set(have) == set(form.held)
        if have and missing and not is_held_only:
            came = f"no column '{missing[0]}' came"
            faults.add(shown, line, "", came, f"all of {', '.join(group)}")
            wrong = True
    if any(name in columns for name in other):
        came = f"columns {', '.join(n for n in other if n in columns)} came"
        faults.add(shown, line, "", came, f"{', '.join(turn)} for rotation '{rotation}'")
        wrong = True
    rough = [name for name in form.about if name in columns]
    if rough and not has_pose:
        came = f"'{rough[0]}' came without columns for a pose"
        rule = "rough joint values beside poses; joint values alone need none"
        faults.add(shown, line, "", came, rule)
        wrong = True
    if not any(name in columns for name in (*joints, *pose_columns)):
        faults.add(shown, line, "", "no column with values came", "joints or poses")
        wrong = True
    if has_pose:
        said = (("rotation", rotation, "fixed x-y-z"), ("frame", frame, "base"))
        for key, value, example in said:
            if value is None:
                came = f"poses came, but the cell's 'points' does not say '{key}'"
                faults.add(shown, line, "", came, f"for example '{key}: {example}' in cell.yaml")
                wrong = True
    return not wrong

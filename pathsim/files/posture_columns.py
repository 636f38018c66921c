"""What a row of ``points.csv`` says of the joints beside a pose: a posture, rough joint values."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pathsim.arm import Arm
from pathsim.arm.postures import (
    ANY_POSTURE,
    WORDS,
    Posture,
    has_postures,
    measures,
    posture_of,
    read_posture,
)
from pathsim.errors import ArmError
from pathsim.files.points_header import Column, PointsForm
from pathsim.transforms import Array

if TYPE_CHECKING:
    from pathsim.files.points_file import PointRow

#: Rough values are meant to a quarter of a turn; more than ten turns are not meant, rad.
_ROUGH, _MOST_TURN = np.pi / 2, 20 * np.pi
#: So near to where two postures meet both of their words are let pass beside joint values.
_BORDER_ANGLE, _BORDER_PLACE = np.radians(0.5), 5e-3  # rad, m


class QueryLimits(NamedTuple):
    """How the arm shall stand, and rough joint values (index, what the display shows, rad)."""

    posture: Posture = ANY_POSTURE
    about: tuple[tuple[int, float], ...] = ()


def read_asked(row: PointRow, form: PointsForm, arm: Arm) -> QueryLimits:
    """Read what a row asks for beside its pose; faults are noted."""
    about = []
    for name, joint in form.about.items():
        values = row.group((name,))
        if values is None:
            continue
        if abs(values[0]) > _MOST_TURN:
            came = f"came {np.degrees(values[0]):.0f} deg"
            row.faults.add(row.shown, row.line, f"{row.name}, {name}", came, "at most ten turns")
            continue
        about.append((joint, float(values[0])))
    return QueryLimits(_posture(row, arm), tuple(about))


def _posture(row: PointRow, arm: Arm) -> Posture:
    """Read the words of a wanted posture; nothing said when the row has none."""
    text = row.text("posture")
    if not text:
        return ANY_POSTURE
    key = f"{row.name}, posture"
    if not has_postures(arm):
        came = "this arm's postures have no names: its wrist is not spherical"
        rule = "joint values, or rough ones under 'about j1 deg' and so on"
        row.faults.add(row.shown, row.line, key, came, rule)
        return ANY_POSTURE
    try:
        return read_posture(text)
    except ArmError as error:
        row.faults.add(row.shown, row.line, key, str(error), WORDS)
        return ANY_POSTURE


def contradicts(row: PointRow, form: PointsForm, arm: Arm, q: Array, asked: QueryLimits) -> bool:
    """Note where taught joint values ``q (dof,)`` are not what their own row asks for."""
    faults, before = row.faults, len(row.faults)
    if asked.posture:
        stands = _beyond_doubt(arm, q)
        wrong = [part for part in asked.posture.said if part not in stands.said]
        opposed = [part for part in wrong if any(type(part) is type(s) for s in stands.said)]
        if opposed:
            came = f"'{opposed[0]}', but its joint values stand {posture_of(arm, q)}"
            rule = "the same posture, or none beside joint values"
            faults.add(row.shown, row.line, f"{row.name}, posture", came, rule)
    shown = arm.readings.shown(q)
    names = {joint: name for name, joint in form.about.items()}
    for joint, value in asked.about:
        if abs(shown[joint] - value) > _ROUGH:
            came = f"{np.degrees(value):.0f} deg, but its joint value is "
            came += f"{np.degrees(shown[joint]):.1f} deg"
            rule = "the same to a quarter of a turn, or none beside joint values"
            faults.add(row.shown, row.line, f"{row.name}, {names[joint]}", came, rule)
    return len(faults) > before


def _beyond_doubt(arm: Arm, q: Array) -> Posture:
    """How the arm stands at ``q (dof,)``, without what is near a border."""
    found, stands = measures(arm, q), posture_of(arm, q)
    return Posture(
        stands.shoulder if abs(float(found.shoulder)) > _BORDER_PLACE else None,
        stands.elbow if abs(float(found.elbow)) > _BORDER_ANGLE else None,
        stands.wrist if abs(float(found.wrist)) > _BORDER_ANGLE else None,
    )


def as_written(
    columns: Mapping[str, Column], form: PointsForm, arm: Arm, q: Array
) -> dict[str, str]:
    """Return posture and rough joint values of ``q (dof,)`` for the columns that a file has."""
    cells = {}
    if "posture" in columns and has_postures(arm):
        cells["posture"] = str(posture_of(arm, q))
    shown = arm.readings.shown(q)
    for name, joint in form.about.items():
        if name in columns:
            cells[name] = f"{shown[joint] / columns[name].scale:.1f}"
    return cells

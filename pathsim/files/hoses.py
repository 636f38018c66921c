"""How far hoses stand to be wound up: read from a cell file, and written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import numpy as np
from pydantic import Field

from pathsim.arm import Arm
from pathsim.files.exact_numbers import text
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.quantities import Angle, Entry, angle_up_to
from pathsim.files.yaml_source import YamlSource
from pathsim.findings.axis_words import column_name
from pathsim.model.hoses import LEAST, MOST, Hose


class HoseEntry(Entry):
    """What hoses stand about one joint; ``unwound at`` as the display shows it."""

    turns: Annotated[float, angle_up_to(MOST)]
    unwound_at: Angle | None = Field(default=None, alias="unwound at")


def read_hoses(
    entries: Mapping[str, HoseEntry], arm: Arm, source: YamlSource, faults: FaultList
) -> tuple[Hose, ...]:
    """Return the hoses of a cell file in the order of its joints; faults are noted."""
    names = {column_name(arm, k): k for k in range(arm.dof) if not arm.prismatic[k]}
    found = []
    for name, entry in entries.items():
        line, key = source.line(("hoses", name)), f"hoses.{name}"
        joint = names.get(name)
        if joint is None:
            came, cure = f"no joint that turns is called '{name}'", did_you_mean(name, names)
            faults.add(source.shown, line, key, came, f"one of: {', '.join(names)}", cure)
            continue
        if entry.turns < LEAST:
            came = f"came {np.degrees(entry.turns):g} deg of turns"
            due = f"at least {np.degrees(LEAST):g} deg, counted from least to most"
            faults.add(source.shown, line, f"{key}.turns", came, due)
            continue
        if entry.unwound_at is not None and _is_coupled(arm, joint):
            came = f"the display counts {name} together with another joint"
            faults.add(
                source.shown, line, f"{key}.unwound at", came, "'turns' alone on such a joint"
            )
            continue
        found.append(Hose(joint, entry.turns, _unwound(arm, joint, entry.unwound_at)))
    return tuple(sorted(found, key=lambda hose: hose.joint))


def hoses_document(hoses: tuple[Hose, ...], arm: Arm) -> dict[str, dict[str, Any]]:
    """Return hoses as a cell file says them; nothing where there are none."""
    document: dict[str, dict[str, Any]] = {}
    for hose in hoses:
        entry = {"turns": f"{text(hose.turns)} rad"}
        if hose.unwound is not None:
            sign, zero = arm.readings.mix[hose.joint, hose.joint], arm.readings.zero[hose.joint]
            entry["unwound at"] = f"{text(float((hose.unwound - zero) / sign))} rad"
        document[column_name(arm, hose.joint)] = entry
    return {"hoses": document} if document else {}


def _is_coupled(arm: Arm, joint: int) -> bool:
    row = np.delete(arm.readings.mix[joint], joint)
    return bool(row.any())


def _unwound(arm: Arm, joint: int, shown: float | None) -> float | None:
    if shown is None:
        return None
    return float(arm.readings.mix[joint, joint] * shown + arm.readings.zero[joint])

"""Putting the place of a jig or body that was touched into ``cell.yaml``, comments kept."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pathsim.atomic_write import write_whole
from pathsim.errors import NothingWritten
from pathsim.files import load_cell
from pathsim.files.exact_numbers import fixed_angles
from pathsim.files.groups import placement
from pathsim.files.yaml_edit import YamlEdit
from pathsim.model import Body
from pathsim.model.scenery import LEAST_KNOWN
from pathsim.touches import Placement
from pathsim.transforms import Array, inverse
from pathsim.units import millimetres, parse

if TYPE_CHECKING:
    from rich.console import Console

#: Places that are written have to come back within this, m.
SAME = 2e-5


def values(text: Any, kind: str) -> tuple[float, float, float]:
    """Return the three values of a place or turn as the file has it; zeros where it has none."""
    if text is None:
        return (0.0, 0.0, 0.0)
    x, y, z = parse(text, kind, 3)
    return (x, y, z)


def place_text(place: Array) -> str:
    """Return a place ``(3,)`` in m as the file has it."""
    return " ".join(f"{v:.3f}" for v in np.round(1e3 * place, 3) + 0.0) + " mm"


def turn_text(T: Array) -> str:
    """Return the turn of a pose ``(4, 4)`` as the file has it."""
    degrees = np.round(np.degrees(fixed_angles(T[:3, :3])), 4) + 0.0
    return " ".join(f"{v:.4f}" for v in degrees) + " deg"


def write_place(
    cell_folder: Path, edit: YamlEdit, entry: Any, found: Placement,
    known_to: float, within: Array | None, bodies: list[Body], console: Console,
) -> None:  # fmt: skip
    """Write a place that was found; ``within (2, 3)``: the box in its frame that it is known in.

    Raises NothingWritten where it is not proved, or would not read as it was meant.
    """
    if not found.fits:
        raise NothingWritten("nothing was written: the touches do not fit together")
    if not found.is_tested:
        raise NothingWritten("nothing was written: one touch more is needed to prove the others")
    if known_to > LEAST_KNOWN:
        raise NothingWritten(
            f"nothing was written: it would be known to {millimetres(known_to)} only. Touch "
            "places farther apart"
        )
    T_before = placement(values(entry["at"], "length"), values(entry.get("turned"), "angle"))
    entry["at"], entry["turned"] = (
        place_text(found.T_world_drawing[:3, 3]),
        turn_text(found.T_world_drawing),
    )
    entry["known to"] = f"{known_to * 1e3:.1f} mm"
    if within is not None:
        entry["known within"] = {"from": place_text(within[0]), "to": place_text(within[1])}
    raw = edit.text().encode()
    path = edit.path.resolve()
    again = load_cell(cell_folder, instead={path: raw})
    T_moved = found.T_world_drawing @ inverse(T_before)
    for body in bodies:
        meant = body.mesh.moved(T_moved @ body.T_world_body).corners
        there = again.body(body.name)
        came = there.mesh.moved(there.T_world_body).corners
        if np.abs(meant - came).max() > SAME:
            raise NothingWritten(f"nothing was written: {body.name} would not come to its place")
    if path.read_bytes() != edit.original:
        raise NothingWritten(f"nothing was written: {path.name} was changed meanwhile")
    write_whole(path, raw)
    console.print(f"Written: {path.name}")

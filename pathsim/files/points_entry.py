"""How a cell counts the poses of its points, read without the rest of the cell."""

from __future__ import annotations

from pathlib import Path

from pathsim.files.cell_schema import CellFile
from pathsim.files.contents import CELL_FILE, Contents, own_folder
from pathsim.files.faults import FaultList
from pathsim.files.frames import BASE, WORLD
from pathsim.files.yaml_source import read_validated


def points_entry(folder: str | Path, *, is_named: bool = False) -> tuple[str | None, str | None]:
    """Return rotation convention and frame that a cell names for its poses, None where not.

    The frame is base or world, what a display can show; ``is_named``: whatever the cell names.
    """
    path = own_folder(folder) / CELL_FILE
    faults = FaultList()
    read = read_validated(path, path.name, CellFile, Contents(), faults)
    faults.raise_if_any()
    if read is None:
        return None, None
    said = read[1].points
    if is_named:
        return said.rotation, said.frame
    # A jig's frame is one of the cell; displays know base and world.
    return said.rotation, said.frame if said.frame in (None, BASE, WORLD) else BASE

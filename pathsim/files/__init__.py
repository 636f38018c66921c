"""The files of a cell: read with line numbers, checked strictly, every fault at once.

What reads YAML is imported with the first cell that is read or saved, not before.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathsim.model import Cell

__all__ = ["load_cell", "save_cell"]


def load_cell(folder: str | Path, instead: Mapping[Path, bytes] | None = None) -> Cell:
    """Load a cell folder (or its ``cell.yaml``), all quantities turned into m, rad and s.

    Raises CellFaults with every fault of every file, each with its line, what came and what was
    expected; CannotCheck when there is no such folder. Nothing is returned from half a cell.
    ``instead``: bytes by real path, read in the place of what is on disk.
    """
    from pathsim.files.cell_folder import load_cell as load

    return load(folder, instead)


def save_cell(cell: Cell, folder: str | Path) -> Path:
    """Write a whole cell folder; return it. ``load_cell`` reads an equal cell from it.

    Everything lies in the folder: ``cell.yaml``, ``points.csv``, arm and torch descriptions, and
    meshes (PLY, float64). Numbers come back to the last bit, with these exceptions, all below
    1e-12 rad or m: rotations that no three angles give exactly, poses of points (quaternions),
    joint values behind a display's zeros and couplings, and vertices of a body whose unit is
    another than that its numbers came in. Where a body's or torch's unit was not said, it is m.

    The folder must not exist, and the one around it must. What was written is read back and
    compared before it gets its name: a cell that the files cannot hold is refused with the field
    that would be lost, and nothing is left behind. Raises CannotCheck.
    """
    from pathsim.files.cell_saving import save_cell as save

    return save(cell, folder)

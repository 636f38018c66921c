"""``save_cell``: a cell to a folder that ``load_cell`` reads back, or to nothing at all."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq

from pathsim.atomic_write import write_whole
from pathsim.errors import CannotCheck, CellFaults, PathsimError
from pathsim.files.cell_differences import differences
from pathsim.files.cell_folder import load_cell
from pathsim.files.cell_writer import folder_aside
from pathsim.files.contents import CELL_FILE
from pathsim.files.mesh_writer import MeshFolder
from pathsim.files.saved_arm import arm_document, torch_document
from pathsim.files.saved_cell import cell_document
from pathsim.files.saved_points import points_text
from pathsim.model import Cell, sound

_MESHES = "meshes"
_SAID = "Written by pathsim, in units whose numbers come back to the last bit."


def save_cell(cell: Cell, folder: str | Path) -> Path:
    """Write a whole cell folder; see ``pathsim.save_cell`` for what it promises."""
    sound.record("save_cell: cell", cell, Cell, "a Cell")
    new = Path(folder)
    if os.path.lexists(new):
        raise CannotCheck(f"'{new}' exists already and was not replaced; name a new folder")
    if not new.absolute().parent.is_dir():
        raise CannotCheck(f"cannot write '{new}': there is no folder '{new.absolute().parent}'")
    files = _files(cell)
    with folder_aside(new.absolute().parent, new.name) as aside:
        try:
            (aside / _MESHES).mkdir()
            for name, raw in files.items():
                write_whole(aside / name, raw)
            _require_equal(cell, aside)
            if os.path.lexists(new):
                raise CannotCheck(f"'{new}' came into being meanwhile; nothing was written")
            aside.rename(new)
        except OSError as error:
            raise CannotCheck(f"cannot write '{new}': {error.strerror or error}") from error
    return new


def _files(cell: Cell) -> dict[str, bytes]:
    """Return the contents of all files, by path from the cell folder."""
    try:
        meshes = MeshFolder(_MESHES)
        texts = {
            CELL_FILE: _yaml(cell_document(cell, meshes)),
            "arm.yaml": _yaml(arm_document(cell, meshes)),
            "torch.yaml": _yaml(torch_document(cell, meshes)),
            "points.csv": points_text(cell),
        }
    except CannotCheck as error:
        raise CannotCheck(f"the cell cannot be saved: {error}. Nothing was written") from error
    return {**meshes.files, **{name: text.encode() for name, text in texts.items()}}


def _require_equal(cell: Cell, folder: Path) -> None:
    """Require that a folder brings the cell back; raises CannotCheck with what it does not."""
    try:
        loaded = load_cell(folder)
    except CellFaults as error:
        fault = error.faults[0]
        raise CannotCheck(
            f"the cell cannot be saved: {Path(fault.file).name} {fault.key}: {fault.came}; "
            f"expected {fault.expected}. Nothing was written"
        ) from error
    except PathsimError as error:
        raise CannotCheck(f"the cell cannot be saved: {error}. Nothing was written") from error
    lost = next(differences(cell, loaded), None)
    if lost is not None:
        raise CannotCheck(
            f"the cell cannot be saved: its files cannot hold {lost} as it is. Nothing was written"
        )


def _yaml(document: dict[str, Any]) -> str:
    yaml = YAML()
    yaml.width = 1_000_000  # a line that breaks in the middle of a number would be another one
    yaml.indent(mapping=2, sequence=4, offset=2)
    stream = io.StringIO()
    top = CommentedMap({key: _laid_out(value) for key, value in document.items()})
    top.yaml_set_start_comment(_SAID)
    yaml.dump(top, stream)
    return stream.getvalue()


def _laid_out(value: Any) -> Any:
    """Put the entries of a list, and plain mappings, in a line each, as a person writes them."""
    if isinstance(value, list):
        return CommentedSeq([_in_a_line(one) for one in value])
    if isinstance(value, dict):
        if all(not isinstance(one, dict | list) for one in value.values()):
            return _in_a_line(value)
        return CommentedMap({key: _laid_out(one) for key, one in value.items()})
    return value


def _in_a_line(value: Any) -> Any:
    entry: Any
    if isinstance(value, dict):
        entry = CommentedMap({key: _in_a_line(one) for key, one in value.items()})
    elif isinstance(value, list):
        entry = CommentedSeq([_in_a_line(one) for one in value])
    else:
        return value
    entry.fa.set_flow_style()
    return entry

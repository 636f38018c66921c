"""A new cell folder with a changed program; the old one is never touched."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from ruamel.yaml.comments import CommentedMap

from pathsim.atomic_write import UNFINISHED
from pathsim.errors import CannotCheck
from pathsim.files.cell_folder import load_cell
from pathsim.files.contents import CELL_FILE, own_folder
from pathsim.files.paths import confined
from pathsim.files.points_entry import points_entry
from pathsim.files.points_header import points_form
from pathsim.files.points_writer import with_points
from pathsim.files.yaml_edit import YamlEdit
from pathsim.model import Cell, Move, MoveKind
from pathsim.model.laid_out import moves_of_lines
from pathsim.stopping import signals_held
from pathsim.transforms import Array

#: Keys of lines that are no move.
_NO_MOVES = {"start", "wait", "wait for", "inch"}
#: Keys of a program line that a move taking its place brings anew, or does without.

_MOVE_KEYS = ("joint", "linear", "speed", "rounding")


def write_changed_cell(
    folder: Path,
    new: Path,
    cell: Cell,
    points: Mapping[str, Array],
    moves: Sequence[tuple[int, Move]],
    instead: Sequence[tuple[int, Move]] = (),
    verify: Callable[[Cell], None] = lambda _: None,
) -> Cell:
    """Write a copy of a cell folder with points and moves changed; return it as it loads.

    ``points``: axes ``(axes,)`` by name; ``moves``: (index, move) pairs put in before the move
    that has that index in the old program; ``instead``: those that take a move's place. ``new``
    must not exist and lie beside the old folder, since paths in cell files are relative to it.
    ``verify`` gets the cell as it loads and raises when it is not what it should be. Raises
    CannotCheck, and then nothing is left behind.
    """
    folder = _resolved(folder)
    require_new_place(folder, new)
    # Beside the old one, where its relative paths lead somewhere: read and verified there.
    with folder_aside(folder.parent, new.name) as copy:
        try:
            shutil.copytree(folder, copy, dirs_exist_ok=True)
            _change_program(copy / CELL_FILE, cell, moves, instead)
            _change_points(copy, folder, cell, points)
            loaded = load_cell(copy)
            verify(loaded)
            if os.path.lexists(new):
                raise CannotCheck(f"'{new}' came into being meanwhile; nothing was written")
            copy.rename(new)
        except OSError as error:
            raise CannotCheck(f"cannot write '{new}': {error.strerror or error}") from error
    return loaded


@contextlib.contextmanager
def folder_aside(root: Path, name: str) -> Iterator[Path]:
    """Make a folder for what is not finished; take it away at the end if it is still there."""
    place = None
    try:
        try:
            with signals_held():
                place = Path(tempfile.mkdtemp(dir=root, prefix=f".{name}.{UNFINISHED}"))
                place.chmod(0o755)
        except OSError as error:
            raise CannotCheck(f"cannot write in '{root}': {error.strerror or error}") from error
        yield place
    finally:
        if place is not None:
            with signals_held():
                shutil.rmtree(place, ignore_errors=True)


def _resolved(folder: Path) -> Path:
    return own_folder(folder).resolve()


def require_new_place(folder: Path, new: Path) -> None:
    """Require that a new cell can be put at ``new``; raises CannotCheck when it cannot."""
    folder = _resolved(folder)
    if os.path.lexists(new):
        raise CannotCheck(f"'{new}' exists already; give the name of a new folder")
    if new.resolve().parent != folder.parent:
        raise CannotCheck(
            f"'{new}' does not lie beside '{folder.name}': paths in a cell file are relative to "
            f"its folder; give a name such as '{folder.parent / (folder.name + '_advised')}'"
        )


def _change_program(
    path: Path,
    cell: Cell,
    moves: Sequence[tuple[int, Move]],
    instead: Sequence[tuple[int, Move]],
) -> None:
    edit = YamlEdit(path)
    program = edit.data["program"]
    # Moves are the lines that are neither the start nor a wait.
    lines = [i for i, step in enumerate(program) if not _NO_MOVES & set(step)]
    counts = moves_of_lines(cell.program)
    if len(lines) != len(counts):
        raise CannotCheck("the cell file's program is not the one that was checked; check it again")
    at = {index: line for line, (index, _) in zip(lines, counts, strict=True)}
    at[len(cell.program.moves)] = len(program)
    within = [i for i, _ in (*moves, *instead) if i not in at]
    if within:
        raise CannotCheck(f"move {within[0] + 1} is a part of one line of the program; change that")
    for index, move in instead:
        for key in [key for key in program[at[index]] if key in _MOVE_KEYS]:
            del program[at[index]][key]
        for place, (key, value) in enumerate(_step(move).items()):
            program[at[index]].insert(place, key, value)
    for index, move in sorted(moves, key=lambda pair: -pair[0]):
        # Of several before one move the last is put in first: they keep their order.
        same = [m for i, m in moves if i == index]
        if move is not same[-1]:
            continue
        for one in reversed(same):
            program.insert(at[index], _step(one))
    path.write_bytes(edit.text().encode())


def _step(move: Move) -> Any:
    """Return a move as a line of the program."""
    if move.kind is MoveKind.JOINT:
        step = CommentedMap({"joint": move.target, "speed": f"{_number(100 * move.speed)} %"})
    else:
        step = CommentedMap({"linear": move.target, "speed": f"{_number(1e3 * move.speed)} mm/s"})
    step.fa.set_flow_style()
    return step


def _number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _change_points(copy: Path, folder: Path, cell: Cell, points: Mapping[str, Array]) -> None:
    if not points:
        return
    said = YamlEdit(folder / CELL_FILE).data["points"]
    text = said["file"]
    if any(key in said for key in ("columns", "separator", "decimal")):
        raise CannotCheck(
            f"the points file '{text}' is a table of its own layout, which is only read; save it "
            "with the headings of docs/files.md, points.csv, and leave 'columns' out"
        )
    path, _ = confined(text, folder, folder.parent)
    if path is None or not path.is_relative_to(folder):
        raise CannotCheck(
            f"the points file '{text}' lies outside of the cell folder, where other cells may use "
            "it; copy it into the folder first"
        )
    rotation, frame = points_entry(folder)
    form = points_form(cell.arm, cell.table, rotation, frame)
    target = copy / path.relative_to(folder)
    target.write_bytes(with_points(target, form, cell.arm, points))

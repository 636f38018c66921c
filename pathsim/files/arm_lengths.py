"""The lengths that an arm description gives, by the names that its file has for them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from pathlib import Path

import numpy as np

from pathsim.arm import Arm
from pathsim.arm.dh import chain_from_rows
from pathsim.arm.dimensions import Dimensions, chain_from_dimensions
from pathsim.files.arm_schema import ArmFile
from pathsim.files.cell_schema import CellFile
from pathsim.files.contents import CELL_FILE, Contents, own_folder
from pathsim.files.faults import FaultList
from pathsim.files.paths import confined
from pathsim.files.yaml_source import read_validated
from pathsim.fit.lengths import Length
from pathsim.transforms import Array, frozen, inverse

_Chain = tuple[Array, Array]


def described_lengths(folder: Path, arm: Arm) -> tuple[Length, ...]:
    """Return the lengths of the description that a cell names; none of a URDF or saved chain.

    ``arm``: as it was built from it. Raises CellFaults as ``load_cell`` does.
    """
    faults, contents = FaultList(), Contents()
    own = own_folder(folder).resolve()
    cell = read_validated(own / CELL_FILE, CELL_FILE, CellFile, contents, faults)
    faults.raise_if_any()
    path, _ = (None, "") if cell is None else confined(cell[1].arm.description, own, own.parent)
    read = None if path is None else read_validated(path, path.name, ArmFile, contents, faults)
    faults.raise_if_any()
    if read is None:
        return ()
    lengths = []
    for name, value, chain in _named(read[1]):
        (fixed, ends), (more_fixed, more_ends) = chain(value), chain(value + 1.0)
        by_metre = more_fixed - fixed, more_ends - ends
        lengths.append(Length(name, value, *map(frozen, _on_rail(arm, *by_metre))))
    return tuple(lengths)


def _named(file: ArmFile) -> Iterator[tuple[str, float, Callable[[float], _Chain]]]:
    """Give each length: its name, its value in m, and the chain if it had another."""
    if file.dimensions is not None:
        given = {f.name: float(getattr(file.dimensions, f.name)) for f in fields(Dimensions)}
        size = Dimensions(**given)
        for name, value in given.items():

            def drawn(v: float, name: str = name) -> _Chain:
                return chain_from_dimensions(replace(size, **{name: v}))

            yield name.replace("_", " "), value, drawn
    if file.convention is None:
        return
    rows = [[j.a or 0.0, j.alpha or 0.0, j.d or 0.0, j.theta0 or 0.0] for j in file.joints]
    convention = file.convention
    for index, joint in enumerate(file.joints):
        for column, key in ((0, "a"), (2, "d")):
            if joint.slides and key == "d":
                continue  # that is what its display counts

            def chain(v: float, index: int = index, column: int = column) -> _Chain:
                other = [list(row) for row in rows]
                other[index][column] = v
                return chain_from_rows(other, convention)

            yield f"{key} of joint {index + 1}", rows[index][column], chain


def _on_rail(arm: Arm, fixed: Array, ends: Array) -> tuple[Array, Array]:
    """Return changes of a chain as changes of the same chain behind the arm's rail, if it has one.

    The first ``(4, 4)`` of a chain on a rail is the rail's own frame (``Arm.on_rail``).
    """
    if not arm.has_rail:
        return fixed, ends
    none = np.zeros((1, 4, 4))
    first = inverse(arm.fixed[0]) @ fixed[0]
    return np.concatenate([none, [first], fixed[1:]]), np.concatenate([none, ends])

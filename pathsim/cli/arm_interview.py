"""Which posture to note next, said once or asked for one after the other until the rows decide."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pathsim.advice.edges import Edge, EdgeProver
from pathsim.atomic_write import write_whole
from pathsim.errors import CannotCheck
from pathsim.files.points_header import PointsForm, turn_columns
from pathsim.files.readings_file import read_readings
from pathsim.files.value_table import is_blank, open_table
from pathsim.fit import Description, Reading, Verdict
from pathsim.fit.next_posture import NextPosture, next_posture
from pathsim.model import Cell
from pathsim.session import Session
from pathsim.transforms import Array

if TYPE_CHECKING:
    from rich.console import Console

#: So many things that a posture tells are named.
_MOST_TOLD = 3
PLACE_UNITS = ("x mm", "y mm", "z mm")
_SLOWLY = (
    "Go there by jog, slowly: it is clear in this model, whichever way a joint in doubt counts; "
    "but the model may be wrong."
)
#: A number as people type it: decimal point or comma.
_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)$")
_LIKE = "numbers with a space between them, such as '812.5 -40 655.2'"


@dataclass(frozen=True, eq=False)
class Interview:
    """What is known of the arm whose postures are noted, and how a row of the file looks."""

    cell: Cell
    description: Description
    form: PointsForm

    def next(self, rows: Sequence[Reading], verdict: Verdict | None) -> NextPosture | None:
        """Return the posture to note next; None once the rows decide."""
        looks = EdgeProver(self.cell, Session(), 0.25, 0.1)
        table = [] if self.cell.table is None else [0.0] * len(self.cell.table.axes)

        def is_free(q: Array) -> bool:
            axes = np.array([*q, *table])
            return bool(looks.spare([Edge(axes, axes)])[0] >= 0)

        return next_posture(self.description, rows, verdict, is_free)

    @property
    def joints(self) -> list[str]:
        """Columns of the joints, with their units."""
        return [f"{name} {_unit(kind)[0]}" for name, kind in self._axes]

    @property
    def pose(self) -> list[str]:
        """Columns of the pose, with their units."""
        turn = turn_columns(self.form.rotation or "fixed x-y-z")
        return [*PLACE_UNITS, *(name if name.startswith("q") else f"{name} deg" for name in turn)]

    def values(self, posture: NextPosture) -> list[str]:
        """Return a posture's joints as displayed, in the columns' units."""
        return [
            f"{value / _unit(kind)[1] + 0.0:.0f}"
            for value, (_, kind) in zip(posture.shown, self._axes, strict=False)
        ]

    @property
    def _axes(self) -> tuple[tuple[str, str], ...]:
        return self.form.axes[: self.cell.arm.dof]

    def lines(self, rows: Sequence[Reading], verdict: Verdict | None) -> list[str]:
        """Say which posture to note next, as a row that waits for its pose; nothing once told."""
        found = self.next(rows, verdict)
        if found is None:
            return []
        return [
            f"Next, note the pose that the display shows in this posture.{_told(found)}",
            _SLOWLY,
            "Its row in the file, the pose in place of the dots:",
            f"  {','.join(['name', *self.joints, *self.pose])}",
            f"  posture {len(rows) + 1},{','.join(self.values(found))},...",
        ]

    def hold(
        self,
        path: Path,
        explained: Callable[[list[Reading]], Verdict],
        ask: Callable[[str], str],
        console: Console,
    ) -> None:
        """Ask for posture after posture and write each row to ``path``, until they decide.

        ``ask`` puts a question and returns what was typed; nothing typed ends it. Each row is in
        the file before the next question. Raises CannotCheck for a file with other columns.
        """
        header = ["name", *self.joints, *self.pose]
        text = _text_of(path, header)
        while True:
            rows = read_readings(path, self.form, self.cell.arm) if text.strip() else []
            found = self.next(rows, explained(rows) if rows else None)
            if found is None:
                return
            number = len(rows) + 1
            asked = ", ".join(
                f"{name.split()[0]} {value} {name.split()[1]}"
                for name, value in zip(self.joints, self.values(found), strict=True)
            )
            for line in (f"Posture {number}: {asked}.{_told(found)}", _SLOWLY):
                console.print(line, highlight=False, markup=False, soft_wrap=True)
            row = self._typed(self.values(found), ask, console)
            if row is None:
                return
            text = text or ",".join(header) + "\n"
            text += "" if text.endswith("\n") else "\n"
            text += ",".join([_free_name(rows, number), *row]) + "\n"
            write_whole(path, text)

    def _typed(
        self, asked: list[str], ask: Callable[[str], str], console: Console
    ) -> list[str] | None:
        """Return joints and pose as typed; None when nothing was."""
        pose, both = len(self.pose), len(asked) + len(self.pose)
        columns = ", ".join(self.pose)
        while True:
            typed = ask(f"Pose shown there: {columns} (nothing: end)").strip()
            if not typed:
                return None
            numbers = re.split(r"[\s;]+", typed.replace(", ", " "))
            if all(map(_NUMBER.match, numbers)) and len(numbers) in (pose, both):
                numbers = [one.replace(",", ".") for one in numbers]
                return numbers if len(numbers) == both else [*asked, *numbers]
            came = f"came {len(numbers)} values" if len(numbers) > 1 else f"came '{typed}'"
            expected = f"{pose} ({columns}), or {both} with the joints before them"
            console.print(f"{came}; expected {expected}: {_LIKE}.", highlight=False, markup=False)


def _unit(kind: str) -> tuple[str, float]:
    return ("deg", np.pi / 180) if kind == "angle" else ("mm", 1e-3)


def _text_of(path: Path, header: list[str]) -> str:
    """Return what a file of readings holds so far; CannotCheck where rows would not fit in."""
    if not path.exists():
        return ""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise CannotCheck(f"the readings '{path}' cannot be read as UTF-8 text") from error
    reader, separator = open_table(text)
    first = next((cells for cells in reader if not is_blank(cells)), None)
    if first is None:
        return text
    if separator != "," or [cell.strip() for cell in first] != header:
        raise CannotCheck(
            f"'{path}' has other columns than --ask writes; expected '{','.join(header)}'. Name a "
            "file that is not there yet"
        )
    return text


def _free_name(rows: Sequence[Reading], number: int) -> str:
    names = {row.name for row in rows}
    while f"posture {number}" in names:
        number += 1
    return f"posture {number}"


def _told(found: NextPosture) -> str:
    """Say what a posture tells; nothing where it is only one more."""
    if not found.tells:
        return ""
    few = list(found.tells[:_MOST_TOLD])
    if len(found.tells) > _MOST_TOLD:
        few.append(f"{len(found.tells) - _MOST_TOLD} more")
    return f" It tells: {'; '.join(few)}."

"""``pathsim arm``: a description in words, held against readings, and put right on request."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import numpy as np

from pathsim.advice.edges import Edge, EdgeProver
from pathsim.errors import CannotCheck
from pathsim.files import load_cell
from pathsim.files.cell_folder import points_entry
from pathsim.files.cell_schema import Rotation
from pathsim.files.contents import own_folder
from pathsim.files.description_writer import write_candidate
from pathsim.files.points_header import PointsForm, points_form, turn_columns
from pathsim.files.readings_file import read_readings
from pathsim.files.together import put_back
from pathsim.fit import Description, Reading, Verdict, explain, residuals
from pathsim.fit.next_posture import next_posture
from pathsim.fit.proof import require_proof
from pathsim.fit.trials import CLOSE, CLOSE_TURN, worst
from pathsim.model import Cell
from pathsim.report.arm_text import print_arm, print_verdict
from pathsim.session import Session
from pathsim.transforms import Array, inverse

if TYPE_CHECKING:
    from rich.console import Console

#: So many things that a posture tells are named.
_MOST_TOLD = 3
PLACE_UNITS = ("x mm", "y mm", "z mm")
FRAMES, SHOWN = ("base", "world"), ("tool", "flange")


@dataclass(frozen=True)
class ArmQuestion:
    """What was asked: see the options of ``pathsim arm``."""

    cell: Path
    readings: Path | None
    rotation: str | None
    frame: str | None
    shows: str
    write: bool


def answer(question: ArmQuestion, console: Console, with_bar: Callable[..., Any]) -> bool:
    """Print the answer; return whether description and readings agree (True without readings)."""
    _require_known(question)
    back = put_back(own_folder(question.cell).resolve().parent)
    if back:
        console.print(f"Put back as before a change that was cut off: {', '.join(back)}.")
    cell = load_cell(question.cell)
    if question.readings is None:
        print_arm(cell, console)
        return True
    said_rotation, said_frame = points_entry(question.cell)
    rotation, frame = question.rotation or said_rotation, question.frame or said_frame or "base"
    form = points_form(cell.arm, False, rotation, frame)
    before = described(cell, frame, question.shows)
    if not question.readings.exists():
        first = "\n".join(_next_lines(cell, before, [], None, form))
        raise CannotCheck(f"the readings '{question.readings}' are not there yet. {first}")
    rows = read_readings(question.readings, form, cell.arm)
    verdict: Verdict = with_bar(
        lambda progress: explain(
            before, rows, shows_tool=question.shows == "tool", progress=progress
        ),
        "looking for an explanation",
    )
    print_verdict(verdict, rows, console)
    for line in _next_lines(cell, before, rows, verdict, form):
        console.print(line, highlight=False, markup=False, soft_wrap=True)
    if not question.write or verdict.agrees:
        return verdict.agrees
    if len(verdict.explained) != 1:
        many = "several explanations are as cheap" if verdict.explained else "nothing explains it"
        raise CannotCheck(f"nothing was written: {many}. More rows may tell.")
    for slip in verdict.explained[0].slips:
        raise CannotCheck(
            f"nothing was written: row '{slip.row}' (line {slip.line}) does not fit the others. "
            "Read it off again, or take it out."
        )
    require_proof(before, rows, verdict.explained[0])
    now: list[tuple[float, float]] = []

    def is_right(written: Cell) -> bool:
        left = worst(residuals(described(written, frame, question.shows), rows))
        now.append(left)
        return left[0] <= CLOSE and left[1] <= CLOSE_TURN

    changed = write_candidate(question.cell, cell, before, verdict.explained[0], frame, is_right)
    for path in changed:
        console.print(f"Written: {path.name}")
    console.print(
        f"Held against the readings again: at most {now[-1][0] * 1e3:.2f} mm and "
        f"{np.degrees(now[-1][1]):.2f} deg."
    )
    if {p.parent for p in changed} - {own_folder(question.cell).resolve()}:
        console.print("Other cells that use the same description have changed with it.")
    return True


def _next_lines(
    cell: Cell,
    description: Description,
    rows: Sequence[Reading],
    verdict: Verdict | None,
    form: PointsForm,
) -> list[str]:
    """Say which posture to note next, as a row that waits for its pose; nothing once it is told."""
    looks = EdgeProver(cell, Session(), 0.25, 0.1)
    table = [] if cell.table is None else [0.0]

    def is_free(q: Array) -> bool:
        axes = np.array([*q, *table])
        return bool(looks.spare([Edge(axes, axes)])[0] >= 0)

    found = next_posture(description, rows, verdict, is_free)
    if found is None:
        return []
    tells = f" It tells {_listed(found.tells)}." if found.tells else ""
    names = [name for name, _ in form.axes][: cell.arm.dof]
    units = [("deg", np.pi / 180) if kind == "angle" else ("mm", 1e-3) for _, kind in form.axes]
    header = [f"{name} {unit}" for name, (unit, _) in zip(names, units, strict=False)]
    values = [f"{value / scale + 0.0:.0f}" for value, (_, scale) in
              zip(found.shown, units, strict=False)]  # fmt: skip
    pose = ["x mm", "y mm", "z mm", *turn_columns(form.rotation or "fixed x-y-z")]
    pose = [name if name in PLACE_UNITS or name.startswith("q") else f"{name} deg" for name in pose]
    return [
        f"Next, note the pose that the display shows in this posture.{tells}",
        "Go there by jog, slowly: it is clear in this model, which is what is in doubt.",
        "Its row in the file, the pose in place of the dots:",
        f"  {','.join(['name', *header, *pose])}",
        f"  posture {len(rows) + 1},{','.join(values)},...",
    ]


def _listed(tells: Sequence[str]) -> str:
    """Join what is told; of many the first few."""
    few = list(tells[:_MOST_TOLD])
    if len(tells) > _MOST_TOLD:
        few.append(f"{len(tells) - _MOST_TOLD} more")
    return few[0] if len(few) == 1 else f"{', '.join(few[:-1])} and {few[-1]}"


def described(cell: Cell, frame: str, shows: str) -> Description:
    """Return what of a cell's description a display can prove."""
    tool = cell.torch.T_flange_tcp if shows == "tool" else np.eye(4)
    shown = inverse(cell.arm.readings.T_base_shown) if frame == "base" else cell.T_world_base
    return Description(cell.arm, tool, shown)


def _require_known(question: ArmQuestion) -> None:
    """Raise CannotCheck when a word of the question is not known, or has no use."""
    for option, value, known in (
        ("--rotation", question.rotation, get_args(Rotation)),
        ("--frame", question.frame, FRAMES),
        ("--shows", question.shows, SHOWN),
    ):
        if value is not None and value not in known:
            raise CannotCheck(f"{option} came '{value}'; expected one of: {', '.join(known)}")
    if question.write and question.readings is None:
        raise CannotCheck("--write needs --readings: there is nothing to put into the description")

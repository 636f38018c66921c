"""``pathsim arm``: a description in words, held against readings, and put right on request."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import numpy as np

from pathsim.cli.arm_interview import Interview
from pathsim.errors import CannotCheck, NothingWritten
from pathsim.files import load_cell
from pathsim.files.arm_lengths import described_lengths
from pathsim.files.cell_schema import Rotation
from pathsim.files.contents import own_folder
from pathsim.files.description_writer import write_candidate
from pathsim.files.points_entry import points_entry
from pathsim.files.points_header import points_form
from pathsim.files.readings_file import read_readings
from pathsim.files.together import put_back
from pathsim.fit import Description, Reading, Verdict, explain, residuals
from pathsim.fit.lengths import length_slips
from pathsim.fit.lengths_together import lengths_together
from pathsim.fit.proof import require_proof
from pathsim.fit.trials import CLOSE, CLOSE_TURN, worst
from pathsim.model import Cell
from pathsim.report.arm_text import print_arm
from pathsim.report.arm_verdict import Beside, limit_words, print_verdict
from pathsim.transforms import inverse

if TYPE_CHECKING:
    from rich.console import Console

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


def answer(
    question: ArmQuestion,
    console: Console,
    with_bar: Callable[..., Any],
    ask: Callable[[str], str] | None = None,
) -> bool:
    """Print the answer; return whether description and readings agree (True without readings).

    ``ask`` puts a question and returns what was typed: readings are then asked for first.
    """
    _require_known(question)
    back = put_back(own_folder(question.cell).resolve().parent)
    if back:
        console.print(f"Put back as before a change that was cut off: {', '.join(back)}.")
    cell = load_cell(question.cell)
    readings = question.readings
    if readings is None:
        print_arm(cell, console)
        return True
    said_rotation, said_frame = points_entry(question.cell)
    rotation, frame = question.rotation or said_rotation, question.frame or said_frame or "base"
    question = replace(question, rotation=rotation, frame=frame)
    form = points_form(cell.arm, None, rotation, frame)
    before = described(cell, frame, question.shows)
    interview = Interview(cell, before, form)

    def explained(rows: list[Reading]) -> Verdict:
        found: Verdict = with_bar(
            lambda progress: explain(
                before, rows, shows_tool=question.shows == "tool", progress=progress
            ),
            "looking for an explanation",
        )
        return found

    if ask is not None:
        interview.hold(readings, explained, ask, console)
    if not readings.exists():
        first = "\n".join(interview.lines([], None))
        raise CannotCheck(f"the readings '{readings}' are not there yet. {first}")
    rows = read_readings(readings, form, cell.arm)
    verdict = explained(rows)
    beside = _beside(question, cell, before, rows, verdict)
    print_verdict(verdict, rows, console, beside)
    for line in [] if beside.decides else interview.lines(rows, verdict):
        console.print(line, highlight=False, markup=False, soft_wrap=True)
    if not question.write or verdict.agrees:
        if len(verdict.explained) == 1 and not beside.decides:
            line = "To put that into the description, add --write to the same line."
            console.print(line, highlight=False, markup=False)
        return verdict.agrees
    _require_one(verdict, beside)
    require_proof(before, rows, verdict.explained[0])
    now: list[tuple[float, float]] = []

    def is_right(written: Cell) -> bool:
        left = worst(residuals(described(written, frame, question.shows), rows))
        now.append(left)
        return left[0] <= CLOSE and left[1] <= CLOSE_TURN

    after: list[Cell] = []

    def is_as_found(written: Cell) -> bool:
        after.append(written)
        return is_right(written)

    changed = write_candidate(question.cell, cell, before, verdict.explained[0], frame, is_as_found)
    for path in changed:
        console.print(f"Written: {path.name}")
    console.print(
        f"Held against the readings again: at most {now[-1][0] * 1e3:.2f} mm and "
        f"{np.degrees(now[-1][1]):.2f} deg."
    )
    for line in [*_moved_examples(cell, after[-1]), *limit_words(cell.arm, after[-1].arm)]:
        console.print(line, highlight=False, markup=False, soft_wrap=True)
    if {p.parent for p in changed} - {own_folder(question.cell).resolve()}:
        console.print("Other cells that use the same description have changed with it.")
    return True


def _moved_examples(before: Cell, after: Cell) -> list[str]:
    """Say that the points of a new cell mean other postures once the display is put right."""
    was, now = before.arm.readings, after.arm.readings
    is_same = np.array_equal(was.mix, now.mix) and np.array_equal(was.zero, now.zero)
    if is_same or "points" not in before.to_do:
        return []
    return [
        "The example points are joint values of the old counting and stand elsewhere now: put in "
        "your own before you believe a finding."
    ]


def _beside(
    question: ArmQuestion,
    cell: Cell,
    before: Description,
    rows: list[Reading],
    verdict: Verdict,
) -> Beside:
    """Return what else may be wrong with rows that do not agree, beside the explanations."""
    if verdict.agrees:
        return Beside()
    otherwise = read_otherwise(question, cell, question.rotation, question.frame)
    in_file = described_lengths(question.cell, cell.arm)
    lengths = length_slips(before, rows, in_file)
    # What neither a tool nor a frame explains is told by the display alone.
    is_open = not (otherwise or lengths) and not any(one.is_of_display for one in verdict.explained)
    together = lengths_together(before, rows, in_file) if is_open else ()
    cheapest = min((one.price for one in verdict.explained), default=None)
    return Beside.of(lengths, otherwise, together, cheapest)


def _first_length(beside: Beside) -> str:
    return (beside.lengths or beside.together[0].lengths)[0].name


def _require_one(verdict: Verdict, beside: Beside) -> None:
    """Require one explanation that can be written; raises NothingWritten."""
    if beside.otherwise:
        raise NothingWritten(
            f"nothing was written: with {beside.otherwise} the rows agree as they are"
        )
    if beside.decides:
        raise NothingWritten(
            f"nothing was written: {_first_length(beside)} may be mistyped. Correct it by the "
            "drawing, then ask again"
        )
    if len(verdict.explained) != 1:
        many = "several explanations are as cheap" if verdict.explained else "nothing explains it"
        raise NothingWritten(f"nothing was written: {many}. More rows may tell.")
    for slip in verdict.explained[0].slips:
        raise NothingWritten(
            f"nothing was written: row '{slip.row}' (line {slip.line}) does not fit the others. "
            "Read it off again, or take it out."
        )


def read_otherwise(
    question: ArmQuestion, cell: Cell, rotation: str | None, frame: str | None
) -> str:
    """Return the options with which the rows agree as they are; empty where none would do.

    A wrong convention of turns, the other frame, or the other end of the torch: what is nearest to
    how the rows were read comes first.
    """
    assert question.readings is not None  # noqa: S101 - asked for only with readings
    turns = [one for one in get_args(Rotation) if rotation in get_args(Rotation)]
    quaternion = "quaternion w-x-y-z"
    ways = [
        (turn, of, shows)
        for turn in turns or [rotation]
        for of in FRAMES
        for shows in SHOWN
        if (turn == quaternion) == (rotation == quaternion)
    ]
    asked = (rotation, frame, question.shows)
    for way in sorted(ways, key=lambda way: sum(a != b for a, b in zip(way, asked, strict=True))):
        rows = read_readings(
            question.readings, points_form(cell.arm, None, way[0], way[1]), cell.arm
        )
        left = worst(residuals(described(cell, way[1], way[2]), rows))
        if way != asked and left[0] <= CLOSE and left[1] <= CLOSE_TURN:
            options = zip(("--rotation", "--frame", "--shows"), way, asked, strict=True)
            said = [f"{name} '{to}'" if " " in to or "-" in to else f"{name} {to}"
                    for name, to, was in options if to is not None and to != was]  # fmt: skip
            return " ".join(said)
    return ""


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

"""``pathsim new``: a cell folder that checks at once, by options or by questions."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pathsim.errors import CannotCheck
from pathsim.files.new_cell import (
    AROUND,
    OWN_ARMS,
    STANDS,
    NewCell,
    copy_cell,
    write_new_cell,
)
from pathsim.files.ready_made import ARMS, TORCHES

#: Asks a question with its choices and what is taken if nothing is said.
Ask = Callable[[str, tuple[str, ...], str], str]


def new_cell(
    folder: Path,
    source: Path | None,
    *,
    arm: str | None,
    stands: str | None,
    torch: str | None,
    wire: str | None,
    around: tuple[str, ...] | None,
    points: Path | None,
    urdf: Path | None = None,
    ask: Ask | None,
) -> list[str]:
    """Write a new cell; return what to say of it. ``ask``: for what no option said, or None."""
    if source is not None:
        if any(one is not None for one in (arm, stands, torch, wire, around, points, urdf)):
            raise CannotCheck("--from copies a whole cell; leave the other options out")
        copy_cell(folder, source)
        return [f"Written: {folder}, a copy of {source}.", f"Next: pathsim check {folder}"]

    if urdf is not None and arm is not None:
        raise CannotCheck("--urdf is the arm; leave --arm out")

    def word(said: str | None, question: str, words: tuple[str, ...], usual: str) -> str:
        if said is not None or ask is None:
            return usual if said is None else said
        return ask(question, words, usual)

    standard = NewCell()
    said = around
    if said is None:
        first = word(None, "What stands before it?", (*AROUND, "nothing"), standard.around[0])
        said = () if first == "nothing" else (first,)
    wanted = NewCell(
        standard.arm
        if urdf is not None
        else word(arm, "Which arm? (drawing, rows: your own)", (*ARMS, *OWN_ARMS), standard.arm),
        word(stands, "How does it stand?", STANDS, standard.stands),
        word(torch, "Which neck has the torch?", tuple(TORCHES), standard.torch),
        wire or standard.wire,
        said,
        points,
        urdf,
    )
    cell = write_new_cell(folder, wanted)
    lines = [f"Written: {folder} with cell.yaml, arm.yaml, torch.yaml, points.csv."]
    if urdf is not None:
        lines.append("The arm is that of the file; its accelerations are examples, in arm.yaml.")
    elif wanted.arm in OWN_ARMS:
        lines.append("The arm's numbers are examples: put in your own in arm.yaml.")
    lines.append(f"{len(cell.bodies)} bodies stand in it. Next: pathsim check {folder}")
    return lines

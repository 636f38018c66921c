"""What is said at the foot of the stage about a proposal: shown, asked about, not to be had."""

from __future__ import annotations

from pathsim.view.beside import LOOKING
from pathsim.view.messages import Cure

NOTHING = "No taught point cures this finding. w: why."


def said_of_ghost(cure: Cure | None) -> tuple[str, ...]:
    """Say what is drawn: the proposal's numbers before and after."""
    if cure is None or cure is LOOKING:
        return LOOKING.words
    if cure.ghost is None:
        return (NOTHING,)
    ghost = cure.ghost
    before = (f"Before: {ghost.before}.",) if ghost.before else ()
    return (
        "Dashed: the path with the cure, not in the program yet.", *before,
        f"After: {ghost.after}; {ghost.time}.", "t: write it as a new cell · g: hide it",
    )  # fmt: skip


def question(cure: Cure | None, folder: str) -> tuple[str, ...]:
    """Ask whether to write a proposal to a new folder."""
    if cure is None or cure is LOOKING:
        return (*LOOKING.words, "n: no")
    if cure.ghost is None:
        return (f"Nothing to write. {NOTHING}", "n: close")
    return (
        f"Write the cell with this cure to the new folder '{folder}'?",
        cure.words[1], "This cell stays as it is.", "y: write · n: no",
    )  # fmt: skip

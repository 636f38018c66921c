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
    if ghost.what:
        return (
            _as_sentence(ghost.what), ghost.after, f"Program: {ghost.time}.",
            "Outlined: how it would stand. Done by hand, not written. g: hide it",
        )  # fmt: skip
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
    if cure.ghost.what:
        return ("Nothing to write: this cure changes the cell.", _as_sentence(cure.ghost.what),
                "n: close")  # fmt: skip
    return (
        f"Write the cell with this cure to the new folder '{folder}'?",
        cure.words[1], "This cell stays as it is.", "y: write · n: no",
    )  # fmt: skip


def _as_sentence(text: str) -> str:
    return text[:1].upper() + text[1:].removesuffix(".") + "."

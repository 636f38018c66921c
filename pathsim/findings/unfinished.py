"""A cell that is not finished: what is still an example, and what to do next."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.model import ToDo

#: What to do, in the order in which it is done.
NEXT = {
    ToDo.ARM: "put the arm's own numbers into its description and say where its base stands; then "
    "compare it with the display: 'pathsim arm CELL --readings FILE'.",
    ToDo.TORCH: "put the torch's own numbers into its description, and its stick-out.",
    ToDo.BODIES: "put in what stands round the arm, by mesh files or by tape measure; the role "
    "of what you weld is 'part'.",
    ToDo.POINTS: "put your taught points into the points file.",
    ToDo.PROGRAM: "write the program: its moves by your points, each seam, its speed.",
}


def unfinished(evidence: Evidence) -> Iterator[Finding]:
    """Say what is still an example, and the next thing to do."""
    left = [one for one in NEXT if one in evidence.cell.to_do]
    if not left:
        return
    words = ", ".join(left)
    text = (
        f"This cell is not finished: {words} still as examples. Next: {NEXT[left[0]]} "
        f"Then strike out '{left[0]}' under 'to do'."
    )
    yield Finding(Level.NOTE, FindingKind.UNFINISHED, text)

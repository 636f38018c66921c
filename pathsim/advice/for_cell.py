"""``advise``: cures for a cell, or for what a check of it found."""

from __future__ import annotations

from collections.abc import Callable

from pathsim.advice.advise import advise as advise_on_all
from pathsim.advice.proposal import Advice
from pathsim.advice.trial import Evaluator
from pathsim.check import CheckResult
from pathsim.errors import CellError
from pathsim.model import Cell
from pathsim.session import Session


def advise(
    of: Cell | CheckResult,
    *,
    session: Session | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> tuple[Advice, ...]:
    """Return what can be done about each stop and watch finding of a cell, or of its result.

    Each proposal was checked with the whole program and worsens nothing; it says in words what to
    teach, lengths in mm, angles in deg. ``proposal.after`` is the check of the changed cell, and
    ``proposal.after.cell`` that cell, in m and rad. No weld is touched. ``session``: what it knows
    is used and kept, which saves a second check of a result that it made.
    ``progress(text, share 0..1)`` is called between findings. Raises CannotCheck or MotionError
    when the program has no meaning as written, CellError for anything but a cell or a result.
    """
    if not isinstance(of, Cell | CheckResult):
        raise CellError(f"advise: came a {type(of).__name__}; expected a Cell or a CheckResult")
    before = of if isinstance(of, CheckResult) else None
    cell = of.cell if isinstance(of, CheckResult) else of
    used = Session() if session is None else session
    return advise_on_all(Evaluator(cell, used, before), progress)

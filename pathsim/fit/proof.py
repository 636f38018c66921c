"""What readings must show before an explanation may be written down."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pathsim.errors import NothingWritten
from pathsim.fit.description import Description, Reading, residuals
from pathsim.fit.trials import CLOSE, CLOSE_TURN, Candidate, refitted

#: Fewer rows than this prove nothing, whatever fits them.
LEAST_ROWS = 4
#: Each joint has to be seen in postures that are at least so far apart, rad and m.
_SPREAD = np.radians(15.0)
_SPREAD_SLIDE = 0.05
#: A row that was left out may be predicted so much worse than the fitted ones.
_LENIENT = 3.0


def require_proof(before: Description, rows: Sequence[Reading], found: Candidate) -> None:
    """Raise CannotCheck unless the rows prove an explanation.

    Enough rows, every joint moved between them, and each row predicted from the others alone:
    an explanation that only fits what it was fitted to is none.
    """
    if len(rows) < LEAST_ROWS:
        raise NothingWritten(
            f"nothing was written: {len(rows)} row(s) can be explained by chance. Note at least "
            f"{LEAST_ROWS}, better six, in quite different postures."
        )
    arm = before.arm
    spread = np.ptp(np.array([row.shown for row in rows]), axis=0)
    enough = np.where(arm.prismatic, _SPREAD_SLIDE, _SPREAD)
    lacking = [arm.joint_name(int(j)) for j in np.flatnonzero(spread < enough)]
    if lacking:
        raise NothingWritten(
            f"nothing was written: {', '.join(lacking)} hardly moved between the rows. Note rows "
            "in which every joint stands quite differently."
        )
    for index, row in enumerate(rows):
        if row.T_shown_tcp is None:
            continue
        others = [other for k, other in enumerate(rows) if k != index]
        again = refitted(before, others, found)
        left = residuals(again, [row])[0] if again is not None else None
        if (
            left is None
            or left.distance > _LENIENT * CLOSE
            or (left.turn or 0) > (_LENIENT * CLOSE_TURN)
        ):
            raise NothingWritten(
                f"nothing was written: row '{row.name}' (line {row.line}) does not follow from the "
                "others, so the explanation may be chance. Note more rows."
            )

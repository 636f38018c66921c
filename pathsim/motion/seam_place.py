"""Where a piece of a seam lies in the whole of it: one even travel, and one weave, over all."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.errors import MotionError
from pathsim.model import Weave
from pathsim.motion.path_timing import NO_WAY, require_sane
from pathsim.motion.paths import ToolPath
from pathsim.motion.weaving import WeaveSchedule

#: A joined piece that goes back by more than this turns round on the spot.
_TURNS_BACK = np.cos(np.radians(175.0))


@dataclass(frozen=True, eq=False)
class SeamPlace:
    """Where a piece lies in a seam of several pieces that are joined without a stop.

    ``schedule``: the weave over the whole seam, None without one. ``gone``: seconds of travel
    before this piece, ``travel``: of this piece. ``before`` and ``after``: the neighbouring
    pieces' paths. Round a corner the weave's directions turn evenly from one piece's to the
    other's, so that it goes on without a leap and in step.
    """

    schedule: WeaveSchedule | None
    gone: float
    travel: float
    before: ToolPath | None = None
    after: ToolPath | None = None

    @cached_property
    def start(self) -> float:
        """Time of the whole seam at which this piece starts, s."""
        return self.time_of(0.0)

    def time_of(self, share: float) -> float:
        """Time of the whole seam at a share of this piece, s."""
        gone = self.gone + share * self.travel
        if self.schedule is None:
            return gone
        if share >= 1.0 and self.after is None:
            return self.schedule.duration
        return float(self.schedule.time_of(np.array([gone]))[0])

    @property
    def duration(self) -> float:
        """Seconds of this piece."""
        return self.time_of(1.0) - self.start


def seam_places(paths: list[ToolPath], speed: float, weave: Weave | None) -> list[SeamPlace]:
    """Lay one even travel, and one weave, over all pieces of a seam."""
    from pathsim.motion.seam_frame import travel_at

    travels = []
    for path in paths:
        if path.length <= NO_WAY:
            raise MotionError(
                "a seam needs a length, or a crater time for a spot: its start and end are the "
                "same place"
            )
        travels.append(path.length / speed)
    require_sane(sum(travels))
    for number, (path, following) in enumerate(itertools.pairwise(paths)):
        end, start = travel_at(path, 1.0), travel_at(following, 0.0)
        if float(end @ start) < _TURNS_BACK:
            raise MotionError(
                f"piece {number + 2} of the joined seam turns back on the one before it"
            )
    schedule = None if weave is None else WeaveSchedule(weave, sum(travels))
    require_sane(0.0 if schedule is None else schedule.duration)
    gone = np.concatenate([[0.0], np.cumsum(travels)])
    return [
        SeamPlace(
            schedule,
            float(gone[i]),
            travels[i],
            paths[i - 1] if i > 0 else None,
            paths[i + 1] if i + 1 < len(paths) else None,
        )
        for i in range(len(paths))
    ]

"""A cable or hose that one link carries: a chain of capsules, thicker by its slack."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.errors import MeshError
from pathsim.model.mesh import Mesh
from pathsim.model.solids import capsule_chain
from pathsim.transforms import Array, frozen

#: Slack taken where none is said, as a share of a cable's length. A shallow arc of span d and
#: sag f is ``d (1 + 8/3 (f/d)^2)`` long (parabola, first terms): a sag of a tenth of the span is
#: that of a cable which is nearly 3 % longer.
SLACK_SHARE = 0.1


@dataclass(frozen=True, eq=False)
class Cable:
    """A cable or hose that stays with one link, whatever the posture.

    ``points (n, 3)``: places it passes in the frame of ``link``, m; straight from each to the
    next. ``radius`` m is its own; ``slack`` m is how far it may sag or swing to any side, None for
    ``SLACK_SHARE`` of its length. ``margin`` m is the clearance asked for, in every zone; None for
    the cell's margin on air moves. Raises MeshError for fewer than two points, points that follow
    each other at one place, and sizes that are none.
    """

    name: str
    link: int
    points: Array
    radius: float
    slack: float | None = None
    margin: float | None = None

    def __post_init__(self) -> None:
        points = frozen(self.points)
        object.__setattr__(self, "points", points)
        if self.slack is not None and not (np.isfinite(self.slack) and self.slack >= 0):
            raise MeshError(f"the slack of a cable is at least 0, came {self.slack}")
        if self.margin is not None and not (np.isfinite(self.margin) and self.margin >= 0):
            raise MeshError(f"the margin of a cable is at least 0, came {self.margin}")
        if self.link < 1:
            raise MeshError("a cable is carried by a link that moves, 1 or higher")
        _ = self.mesh  # whoever has a cable has one that can be measured

    @property
    def length(self) -> float:
        """Length along its points, m."""
        return float(np.linalg.norm(np.diff(self.points, axis=0), axis=1).sum())

    @property
    def slack_taken(self) -> float:
        """Slack that is measured with, m."""
        return SLACK_SHARE * self.length if self.slack is None else self.slack

    @property
    def reach(self) -> float:
        """Farthest that any of it may be from the line through its points, m."""
        return self.radius + self.slack_taken

    @cached_property
    def mesh(self) -> Mesh:
        """All that it may fill, slack included; the true rounded shape lies inside."""
        return capsule_chain(self.points, self.reach)

    @cached_property
    def core(self) -> Mesh:
        """The cable itself where it hangs straight from point to point, for pictures."""
        return capsule_chain(self.points, self.radius)

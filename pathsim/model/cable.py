"""A cable or hose that one link carries: a chain of capsules, thicker by its slack."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.geometry.solids import capsule_chain
from pathsim.model import sound
from pathsim.records import FieldsOnly
from pathsim.transforms import Array

#: Slack taken where none is said, as a share of a cable's length. A shallow arc of span d and
#: sag f is ``d (1 + 8/3 (f/d)^2)`` long (parabola, first terms): a sag of a tenth of the span is
#: that of a cable which is nearly 3 % longer.
SLACK_SHARE = 0.1
#: A cable or hose thicker than this, or a slack or margin of more, is in a wrong unit, m.
_THICKEST, _LARGEST = 0.15, 1.0


@dataclass(frozen=True, eq=False)
class Cable(FieldsOnly):
    """A cable or hose that stays with one link, whatever the posture.

    ``points (n, 3)``: places it passes in the frame of ``link``, m; straight from each to the
    next. ``radius`` m is its own; ``slack`` m is how far it may sag or swing to any side, None for
    ``SLACK_SHARE`` of its length. ``margin`` m is the clearance asked for, in every zone; None for
    the cell's margin on air moves. Raises MeshError for fewer than two points and points that
    follow each other at one place, CellError for anything else that cannot be meant.
    """

    name: str
    link: int
    points: Array
    radius: float
    slack: float | None = None
    margin: float | None = None

    def __post_init__(self) -> None:
        sound.text("cable: name", self.name)
        of = f"cable {self.name!r}"
        points = sound.array(f"{of}: points", self.points, (None, 3), "places (n, 3) in m")
        object.__setattr__(self, "points", points)
        sound.number(f"{of}: radius", self.radius, "m", above=0.0, high=_THICKEST)
        sound.whole(f"{of}: link", self.link, 1, 99)
        for name in ("slack", "margin"):
            if getattr(self, name) is not None:
                sound.number(f"{of}: {name}", getattr(self, name), "m", low=0.0, high=_LARGEST)
        _ = self.mesh  # whoever has a cable has one that can be measured

    def __repr__(self) -> str:
        return f"Cable({self.name!r}, on link {self.link}, {len(self.points)} points)"

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

"""A cure that was checked, and how it compares with others."""

from __future__ import annotations

from dataclasses import dataclass, field

from pathsim.advice.change import Change
from pathsim.check import CheckResult
from pathsim.findings import Finding


@dataclass(frozen=True, eq=False)
class Proposal:
    """A change that cures something and worsens nothing; the whole program was checked with it.

    ``kind``: retract, approach, via, twist, branch or home. ``text``: what to teach. ``evidence``:
    sentences with numbers that show why it is so and not less. ``cures``: the findings that go.
    ``clearance_before`` and ``clearance_after`` m: least guaranteed one on the moves concerned.
    ``added_seconds``: of the whole program.
    """

    kind: str
    text: str
    change: Change
    cures: tuple[Finding, ...]
    clearance_before: float
    clearance_after: float
    added_seconds: float
    after: CheckResult
    evidence: tuple[str, ...] = ()
    cannot: tuple[str, ...] = field(default=())

    @property
    def rank(self) -> tuple[float, float, float]:
        """What a programmer cares about: cures most, changes least, costs least time."""
        return (-len(self.cures), self.change.size, self.added_seconds)


@dataclass(frozen=True, eq=False)
class Advice:
    """What can be done about one finding.

    ``proposals``: best first. ``never``: why no point can cure it; empty when one might.
    ``tried``: what was tried without success, in words.
    """

    finding: Finding
    number: int
    proposals: tuple[Proposal, ...]
    never: str = ""
    tried: tuple[str, ...] = ()

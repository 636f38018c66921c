"""A cure that was checked, and how it compares with others."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pathsim.advice.cell_proposal import CellProposal
from pathsim.advice.change import Change
from pathsim.check import CheckResult
from pathsim.clearance import MoveClearance, PairClearance
from pathsim.findings import Finding, Level
from pathsim.findings.places import ALONG_WIRE
from pathsim.findings.what_if import goes_like
from pathsim.units import guaranteed_millimetres, millimetres, percent

#: What a point that has to be taught counts for, s: one is rather taught than so much time spent.
POINT = 0.5
#: What a straight leg counts for besides that does not go back along the wire, s.
_OFF_HABIT = 0.1


def off_habit(words: str) -> float:
    """Return what a plain way out of a weld counts for besides, s: nothing by the trade's habit."""
    return 0.0 if words == ALONG_WIRE else _OFF_HABIT


@dataclass(frozen=True, eq=False)
class Proposal:
    """A change that cures something and worsens nothing; the whole program was checked with it.

    ``kind``: retract, approach, legs, via, section, twist, posture, order, home, joint or straight;
    together: several of these as one. ``text``: what to teach.
    ``evidence``: sentences with numbers that show why it is so and not less. ``cures``: the
    findings that go. ``before`` and ``after``: whole checks; ``tightest_before`` and
    ``tightest_after``: the pair with the least to spare over its margin on the moves that were
    taken out or changed, and on those that came for them. ``off_habit``: what its legs count for
    besides, as they do not go back along the wire, s.
    """

    kind: str
    text: str
    change: Change
    cures: tuple[Finding, ...]
    before: CheckResult
    after: CheckResult
    evidence: tuple[str, ...] = ()
    off_habit: float = 0.0

    def __repr__(self) -> str:
        return f"Proposal({self.kind}, cures {len(self.cures)}, {self.added_seconds:+.1f} s)"

    @property
    def added_seconds(self) -> float:
        """Time that the whole program takes longer, s."""
        return self.after.trajectory.duration - self.before.trajectory.duration

    @property
    def rank(self) -> tuple[float, bool, float, int]:
        """What a programmer cares about: cures most, uses what is taught, and then costs least.

        A point to teach counts as much as ``POINT`` seconds: a lift of some seconds gives way to a
        point on the way. What does not clear by the margin is not proposed in the first place.
        """
        price = self.added_seconds + POINT * len(self.change.points) + self.off_habit
        return (-len(self.cures), bool(self.change.points), price, self.change.size)

    @property
    def tightest_before(self) -> PairClearance | None:
        """Pair with the least to spare on moves that are not in the changed program."""
        return _tightest(self.moves_gone)

    @property
    def tightest_after(self) -> PairClearance | None:
        """Pair with the least to spare on moves that were not in the program before."""
        return _tightest(self.new_moves)

    @property
    def moves_gone(self) -> tuple[MoveClearance, ...]:
        """Moves that are not in the changed program."""
        return moves_only_in(self.before, self.after)

    @property
    def new_moves(self) -> tuple[MoveClearance, ...]:
        """Moves that were not in the program before."""
        return moves_only_in(self.after, self.before)


@dataclass(frozen=True, eq=False)
class Advice:
    """What can be done about one finding.

    ``proposals``: best first. ``never``: why no point can cure it; empty when one might.
    ``tried``: what was tried without success, in words; nothing that was not tried.
    ``of_cell``: changes of the cell, and not of the program, where no proposal cures it;
    ``tried_on_cell``: those tried without success; ``not_tried_on_cell``: sentences that say what
    would fit, was left alone, and why.
    """

    finding: Finding
    number: int
    proposals: tuple[Proposal, ...]
    never: str = ""
    tried: tuple[str, ...] = ()
    of_cell: tuple[CellProposal, ...] = ()
    tried_on_cell: tuple[str, ...] = ()
    not_tried_on_cell: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return f"Advice(finding {self.number}, {len(self.proposals)} proposals)"


def in_numbers(proposal: Proposal) -> str:
    """Say what a proposal changes: tightest pair before and after, findings, and time."""
    rows = dict(numbers_in_rows(proposal))
    said = [f"{when}: {rows[when]}" for when in ("before", "after") if when in rows]
    said[0] = said[0][0].upper() + said[0][1:]
    return "; ".join([*said, rows["stop or watch"], rows["time"]])


def numbers_in_rows(proposal: Proposal) -> tuple[tuple[str, str], ...]:
    """Return the same as rows: ``before`` (if any), ``after``, ``stop or watch`` and ``time``."""
    cap = proposal.before.cap
    counts = [count_grave(result) for result in (proposal.before, proposal.after)]
    old = proposal.tightest_before
    before = [] if old is None else [("before", _pair_in_words(old, cap))]
    return (
        *before,
        ("after", _pair_in_words(proposal.tightest_after, cap)),
        ("stop or watch", f"{counts[0]} stop or watch before, {counts[1]} after"),
        ("time", time_in_words(proposal.before, proposal.after)),
    )


def time_in_words(before: CheckResult, after: CheckResult) -> str:
    """Say how much longer or shorter a program takes, s, and as a share of before."""
    seconds = after.trajectory.duration - before.trajectory.duration
    share = percent(abs(seconds) / max(before.trajectory.duration, 1e-9))
    return f"{abs(seconds):.1f} s {'longer' if seconds >= 0 else 'shorter'} ({share})"


def count_grave(result: CheckResult) -> int:
    """Count the stop and watch findings of a check."""
    return sum(finding.level.at_least(Level.WATCH) for finding in result.findings)


def _pair_in_words(pair: PairClearance | None, cap: float) -> str:
    if pair is None:
        return "nothing was measured on the moves that change"
    if pair.clearance.touches:
        return f"the {pair.piece} touches the {pair.body}"
    kept = pair.clearance.lower
    said = f"over {millimetres(cap, 0)}" if kept >= cap else guaranteed_millimetres(kept)
    return (
        f"{said} guaranteed where {millimetres(pair.margin)} is asked for ({pair.piece} to "
        f"{pair.body})"
    )


def moves_only_in(one: CheckResult, other: CheckResult) -> tuple[MoveClearance, ...]:
    """Return moves of one check whose way is not in another.

    A seam solved from another side differs by the last bits of its joint values: it is the same.
    """
    known = list(other.moves)
    result = []
    for move in one.moves:
        same = next((k for k, old in enumerate(known) if goes_like(move.track, old.track)), None)
        if same is None:
            result.append(move)
        else:
            del known[same]  # the same way may be gone twice in a program
    return tuple(result)


def _tightest(moves: Iterable[MoveClearance]) -> PairClearance | None:
    """Return the pair with the least to spare; touches first, in the order of the moves."""
    pairs = [pair for move in moves for pair in move.noteworthy]
    return min(
        pairs,
        key=lambda p: (not p.clearance.touches, p.clearance.lower - p.margin, p.clearance.upper),
        default=None,
    )

"""What a finding is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from pathsim.clearance import Engine, MoveClearance, Span
from pathsim.clearance.engine import Pair
from pathsim.clearance.records import Clearance
from pathsim.findings.kept_rooms import KeptRooms
from pathsim.findings.kinds import FindingKind
from pathsim.findings.seam_place import SeamOnPart
from pathsim.findings.search_touch import SearchTouch
from pathsim.model import Cell
from pathsim.motion import MoveCache, MoveTrack, Trajectory
from pathsim.units import percent

#: So much of a finding's text is in its repr.
_SHOWN = 80


class Level(StrEnum):
    """How much a finding matters.

    stop: would touch, or cannot be run as asked. watch: stand by the stop here on the first
    slow run. note: good to know.
    """

    STOP = "stop"
    WATCH = "watch"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the gravest."""
        return list(Level).index(self)

    def at_least(self, other: Level) -> bool:
        """Tell whether this is as grave as ``other`` or graver."""
        return self.rank <= other.rank


@dataclass(frozen=True)
class Straight:
    """What a straight move between the two ends of a joint move would do, all pairs measured.

    ``why_not``: why it cannot be run to its end; empty when it can. ``piece`` and ``body``: the
    pair with the least to spare over its ``margin``, m; ``lower``: what it keeps, guaranteed, m,
    0 where it touches. No pair is named where nothing is within what is measured.
    """

    why_not: str = ""
    piece: str = ""
    body: str = ""
    lower: float = 0.0
    margin: float = 0.0

    def serves(self, *, touched: bool) -> bool:
        """Tell whether it does better than a joint move that touched, or only came too near.

        It can be run, and touches nothing; where the joint move did not touch either, it has to
        keep its margins.
        """
        return not self.why_not and self.lower > 0.0 and (touched or self.lower >= self.margin)


@dataclass(frozen=True)
class Finding:
    """One thing to know, in a sentence that a weld programmer would say.

    ``move``: number from 1, None when about the cell. ``moves``: all of them, where one finding
    about the cell stands for what it does on several moves. ``time`` s: the worst moment.
    ``spans``: when it lasts. ``piece`` and ``body``: the pair, where it is about one.
    ``numbers``: what the sentence is made from, in SI. ``straight``: what a
    straight move between the same ends would do, where that was measured. ``explains``: findings
    that are told with this one, as they follow from it. ``brief``: of a seam's description, what
    stands in a table of seams, by the heading over it.
    """

    level: Level
    kind: FindingKind
    text: str
    move: int | None = None
    time: float | None = None
    spans: tuple[Span, ...] = ()
    piece: str | None = None
    body: str | None = None
    numbers: Mapping[str, float] = field(default_factory=dict)
    straight: Straight | None = None
    moves: tuple[int, ...] = ()
    explains: tuple[Finding, ...] = ()
    brief: Mapping[str, str] = field(default_factory=dict)

    def __repr__(self) -> str:
        where = "" if self.move is None else f"move {self.move}, "
        said = self.text if len(self.text) <= _SHOWN else self.text[:_SHOWN] + "..."
        return f"Finding({self.level}, {self.kind}, {where}{said!r})"


@dataclass(frozen=True, eq=False)
class Evidence:
    """Everything that findings are drawn from; ``rooms``: those that an earlier check kept.

    ``engine`` and ``laid``: to measure what would have been, for the cause and the cure of what
    was found; without an engine nothing is said of that. ``straights``, ``amplitudes`` and
    ``searches``: what was measured so of moves, by their number. ``seam_places``: where each seam
    lies on the parts.
    ``at_zero``: what is on the turning table against what stands, with the table at zero
    (``clearance/table_at_zero.py``).
    """

    cell: Cell
    trajectory: Trajectory
    moves: tuple[MoveClearance, ...]
    rooms: KeptRooms | None = None
    engine: Engine | None = None
    laid: MoveCache | None = None
    straights: dict[int, Straight | None] = field(default_factory=dict)
    amplitudes: dict[int, float | None] = field(default_factory=dict)
    searches: dict[int, SearchTouch | None] = field(default_factory=dict)
    seam_places: tuple[SeamOnPart, ...] = ()
    at_zero: Sequence[tuple[Pair, Clearance]] = ()

    def __repr__(self) -> str:
        return f"Evidence({self.cell.name!r}, {len(self.moves)} moves)"


def move_name(track: MoveTrack) -> str:
    """Say a move as in ``move 5, retract > home``."""
    return f"move {track.number}, {track.start} > {track.move.target}"


def upper_move_name(track: MoveTrack) -> str:
    """Say a move at the beginning of a sentence, as in ``Move 5, retract > home``."""
    name = move_name(track)
    return name[0].upper() + name[1:]


def place_in_move(track: MoveTrack, spans: tuple[Span, ...]) -> str:
    """Say when it happens: ``from 12 % to 19 %``, or how often and where first and last."""
    if not spans:
        return ""
    first, last = track.share(spans[0].start), track.share(spans[-1].end)
    if round(first * 100) == round(last * 100):
        where = f"at {percent(first)}"
    else:
        where = f"from {percent(first)} to {percent(last)}"
    return where if len(spans) == 1 else f"{len(spans)} times {where}"

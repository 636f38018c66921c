"""One move of the program, from taught point to taught point."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, fields, replace
from enum import StrEnum

from pathsim.model import sound
from pathsim.model.bead import Bead
from pathsim.model.pause import Pause
from pathsim.model.schedule import Schedule
from pathsim.model.wanted_contact import FASTEST_SEARCH, Search
from pathsim.model.wanted_position import WantedPosition
from pathsim.model.weave import Weave
from pathsim.model.written import Written
from pathsim.units import MOST

#: A seam at more than this (60 m/min) is in a wrong unit, m/s.
FASTEST_SEAM = 1.0
#: Longest crater time and wait, s, and largest rounding, m, that can be meant.
LONGEST_STAND, LARGEST_ROUNDING = 3600.0, 1.0

#: How far off a part's surface, in or out, the wire's end may be on a seam unless it says, m.
OFF_PART = 3e-3
#: So much of the wire, above the weave's amplitude, is its end, which may touch parts, m.
WIRE_END = 5e-3


class MoveKind(StrEnum):
    """How the arm gets to the next point."""

    JOINT = "joint"
    LINEAR = "linear"
    ARC = "arc"


#: A tack has no way; its move has this speed all the same, m/s.
TACK_SPEED = 1e-3


def tack(target: str, time: float, wait: float = 0.0, line: int | None = None) -> Move:
    """Return a tack: the arc on for ``time`` s at the point where the torch stands already."""
    return Move(
        MoveKind.LINEAR, target, TACK_SPEED, arc_on=True, crater=time, line=line, wait=wait,
        tack=True,
    )  # fmt: skip


def fastest(kind: MoveKind, arc_on: bool) -> float:
    """Return the highest speed that can be meant on a move: a share of the joints', or m/s."""
    if kind is MoveKind.JOINT:
        return 1.0
    return FASTEST_SEAM if arc_on else MOST["speed"]


@dataclass(frozen=True)
class Move:
    """One move to ``target``.

    ``speed`` is a share of the joint limits (1.0 = 100 %) on a joint move, the tip speed in
    m/s otherwise. ``via`` is the point that an arc passes. ``arc_on`` makes it a seam, which
    may have a weave and a crater time (s) at its end. ``joined``: goes on from the seam before
    without a stop, at its speed and in step with its weave. ``wait`` (s): the arm stands still
    after the move. ``rounding`` (m): the arm may leave the line so far before the target and
    come back to the next one so far behind it; 0 stops there. Of a seam: ``off_part`` (m) is how
    far off a part's surface, in or out, the wire's end may be, weave left out; ``wire_end`` (m),
    above the weave's amplitude, how much of the wire may touch parts; ``surfacing``: it is laid
    on a plain face, not in a joint. ``tack``: a spot at the point where the torch stands already,
    the arc on for its crater time in all: of its schedule only the gas before and behind adds to
    that. ``along_weld``: the arc is off, and the wire's end stays at the
    joint, where it may touch parts as on a seam. ``written``: the line of the program that it
    is a part of, where that is several moves. ``schedule``: what the welding machine does around
    the seam; its times count. ``search``: a touch search, a straight slow move; ``station``: the
    body of the station that it goes into or comes out of. ``position``: in which welding position
    the turning table keeps the seam, ends as taught. ``pauses``: signals that are waited for and
    wire that is inched behind the move, their seconds within ``wait``. ``leaves``: the bead that
    stands behind it, of a pass of a seam. ``line`` is where the cell file says it.
    Raises CellError when it cannot be meant.
    """

    kind: MoveKind
    target: str
    speed: float
    via: str | None = None
    arc_on: bool = False
    weave: Weave | None = None
    crater: float = 0.0
    line: int | None = None
    joined: bool = False
    wait: float = 0.0
    rounding: float = 0.0
    off_part: float = OFF_PART
    wire_end: float = WIRE_END
    surfacing: bool = False
    tack: bool = False
    along_weld: bool = False
    written: Written | None = None
    schedule: Schedule | None = None
    search: Search | None = None
    station: str | None = None
    position: WantedPosition | None = None
    pauses: tuple[Pause, ...] = ()
    leaves: Bead | None = None

    def __repr__(self) -> str:
        """Say all that is not as it is if nobody says it."""
        said = [
            f"{one.name}={getattr(self, one.name)!r}"
            for one in fields(self)
            if one.default is MISSING or getattr(self, one.name) != one.default
        ]
        return f"Move({', '.join(said)})"

    def waiting(self, seconds: float, pauses: tuple[Pause, ...] = ()) -> Move:
        """Return it with so many seconds more of standing behind it, those of pauses among them."""
        return replace(self, wait=self.wait + seconds, pauses=(*self.pauses, *pauses))

    @property
    def waits_for(self) -> tuple[str, ...]:
        """Whose signals it waits for: nobody knows how long."""
        return tuple(pause.wait_for for pause in self.pauses if pause.wait_for)

    @property
    def lead(self) -> float:
        """Seconds in which the torch stands before it travels: preflow and start, s."""
        return self.preflow + self.start_time

    @property
    def preflow(self) -> float:
        """Seconds of them before the arc, s."""
        return 0.0 if self.schedule is None else self.schedule.preflow

    @property
    def start_time(self) -> float:
        """Seconds of them with the arc on, s."""
        return 0.0 if self.schedule is None or self.tack else self.schedule.start

    @property
    def arc_behind(self) -> float:
        """Seconds with the arc on behind the travel: crater, ramp and burnback, s."""
        within = self.schedule is None or self.tack
        return self.crater + (0.0 if within or self.schedule is None else self.schedule.arc_behind)

    @property
    def crater_time(self) -> float:
        """Seconds of them at the crater's own values, s."""
        own = 0.0 if self.schedule is None else self.schedule.crater
        return own if self.tack else self.crater + own

    @property
    def postflow(self) -> float:
        """Seconds of gas behind the arc, s."""
        return 0.0 if self.schedule is None else self.schedule.postflow

    @property
    def standing(self) -> float:
        """Seconds of the move in which the arm stands, s, at any override."""
        return self.lead + self.arc_behind + self.postflow + self.wait

    @property
    def at_weld(self) -> bool:
        """Tell whether the wire's end is at the weld all along: the arc on, or off at the joint."""
        return self.arc_on or self.along_weld

    @property
    def wants_contact(self) -> bool:
        """Tell whether it is a touch search, or a move into a station or out of it."""
        return self.search is not None or self.station is not None

    @property
    def at_work(self) -> bool:
        """Tell whether the torch is at work on it: at the weld, or where contact is wanted."""
        return self.at_weld or self.wants_contact

    @property
    def is_fixed(self) -> bool:
        """Tell whether advice leaves it: it is at work, or a part of a longer line."""
        return self.arc_on or self.written is not None or self.wants_contact

    @property
    def belongs_to(self) -> str:
        """What it is of a line of several moves ("stitch 2 of 5"); empty where it is its own."""
        return "" if self.written is None else self.written.words

    @property
    def touching_end(self) -> float:
        """How much of the wire's end may touch parts on this seam, m."""
        return self.wire_end + (0.0 if self.weave is None else self.weave.amplitude)

    def __post_init__(self) -> None:
        of = f"move to {sound.shown(self.target)}"
        sound.text("move: target", self.target)
        kind = sound.word(f"{of}: kind", self.kind, MoveKind)
        sound.flag(f"{of}: arc_on", self.arc_on)
        sound.flag(f"{of}: joined", self.joined)
        for name in ("surfacing", "tack", "along_weld"):
            sound.flag(f"{of}: {name}", getattr(self, name))
        if self.written is not None:
            sound.record(f"{of}: written", self.written, Written, "a Written or None")
        most, unit = fastest(kind, self.arc_on), "" if kind is MoveKind.JOINT else "m/s"
        most = most if self.search is None else FASTEST_SEARCH
        sound.number(f"{of}: speed", self.speed, unit, above=0.0, high=most)
        if (self.via is not None) != (kind is MoveKind.ARC):
            due = "a point that the arc passes" if kind is MoveKind.ARC else "None: it is no arc"
            sound.refuse(f"{of}: via", self.via, due)
        if self.via is not None:
            sound.text(f"{of}: via", self.via)
        pauses = sound.records(f"{of}: pauses", self.pauses, Pause, "a Pause")
        if sum(pause.seconds for pause in pauses) > self.wait + 1e-9:
            sound.refuse(f"{of}: pauses", self.wait, "their seconds within 'wait'")
        sound.put(self, pauses=pauses)
        if self.schedule is not None:
            sound.record(f"{of}: schedule", self.schedule, Schedule, "a Schedule or None")
        if self.leaves is not None:
            sound.record(f"{of}: leaves", self.leaves, Bead, "a Bead or None")
        if self.position is not None:
            position = sound.word(f"{of}: position", self.position, WantedPosition)
            sound.put(self, position=position)
        if self.weave is not None:
            sound.record(f"{of}: weave", self.weave, Weave, "a Weave or None")
        sound.number(f"{of}: crater", self.crater, "s", low=0.0, high=LONGEST_STAND)
        sound.number(f"{of}: wait", self.wait, "s", low=0.0, high=LONGEST_STAND)
        sound.number(f"{of}: rounding", self.rounding, "m", low=0.0, high=LARGEST_ROUNDING)
        sound.number(f"{of}: off_part", self.off_part, "m", low=0.0, high=LARGEST_ROUNDING)
        sound.number(f"{of}: wire_end", self.wire_end, "m", low=0.0, high=LARGEST_ROUNDING)
        if self.line is not None:
            sound.whole(f"{of}: line", self.line, 1, 10**9)
        sound.put(self, kind=kind)
        self._require_arc(of)
        self._require_straight(of)

    def _require_arc(self, of: str) -> None:
        """Refuse what only a seam has on any other move, and what a seam cannot have."""
        if self.arc_on and self.kind is MoveKind.JOINT:
            sound.refuse(f"{of}: arc_on", True, "a linear move or an arc where the arc is on")
        if self.arc_on and self.rounding:
            sound.refuse(f"{of}: rounding", self.rounding, "0 on a seam")
        if self.along_weld and (self.arc_on or self.kind is MoveKind.JOINT or self.rounding):
            sound.refuse(f"{of}: along_weld", True, "a straight move or arc with the arc off")
        if self.tack and not (self.arc_on and self.crater and self.kind is MoveKind.LINEAR):
            sound.refuse(f"{of}: tack", True, "a spot: arc_on, linear, with a crater time")
        if self.tack and (self.joined or self.weave is not None):
            sound.refuse(f"{of}: tack", True, "no weave, and not joined: the torch stands still")
        arc_on = 0.0 if self.schedule is None else self.schedule.start + self.schedule.arc_behind
        if self.tack and arc_on > self.crater + 1e-9:
            due = f"at least the {arc_on:g} s of its schedule's steps with the arc on"
            sound.refuse(f"{of}: time of the tack", self.crater, due)
        of_seams = {
            "weave": self.weave,
            "schedule": self.schedule,
            "leaves": self.leaves,
            "position": self.position,
            "crater": self.crater,
            "joined": self.joined,
        }
        for name, value in of_seams.items():
            if value and not self.arc_on:
                sound.refuse(f"{of}: {name}", value, "it on a seam only (arc_on)")

    def _require_straight(self, of: str) -> None:
        """Refuse a search or a station on anything but a straight move with the arc off."""
        if self.search is not None:
            sound.record(f"{of}: search", self.search, Search, "a Search or None")
        if self.station is not None:
            sound.text(f"{of}: station", self.station)
            if self.search is not None:
                sound.refuse(f"{of}: station", self.station, "None: it is a search")
        if self.search is None and self.station is None:
            return
        if self.arc_on or self.kind is not MoveKind.LINEAR or self.rounding:
            due = "a straight move without arc and rounding where contact is wanted"
            sound.refuse(f"{of}: {self.label}", str(self.kind), due)

    @property
    def label(self) -> str:
        """What a table calls this move: by what it is for, not by its line."""
        if self.wants_contact:
            return "search" if self.search is not None else "station"
        return "tack" if self.tack else "seam" if self.arc_on else str(self.kind)

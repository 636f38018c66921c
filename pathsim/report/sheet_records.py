"""What stands on a first-run sheet, as plain records."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.findings import Finding
from pathsim.report.plan_records import Plan

#: Headings, and what marks a move to stand by at.
SEAMS = "Where the seams lie on the parts"
NUMBERS = "Seams and arm in numbers"
ARC_ON = "Before the first run with the arc on"
POINTS = "Points, as the display counts them (* weld)"
PLAN = "From above: what left and front are"
REMARKS = "Remarks"
#: Empty lines to write remarks on.
REMARK_LINES = 2
NEAR = "\N{RIGHT-POINTING DOUBLE ANGLE QUOTATION MARK}"


@dataclass(frozen=True)
class Row:
    """One move of the program.

    ``tip``: the largest speed of the wire's tip at the override, mm/s. ``level``: "stop", "watch"
    or empty, the gravest of it. ``is_near``: it is marked, for that or because one of the moments
    to stand by lies in it.
    """

    number: str
    kind: str
    way: str
    speed: str
    seconds: str
    tip: str
    clear_by: str
    at: str
    to: str
    is_near: bool
    level: str = ""

    @property
    def mark(self) -> str:
        """What stands at its beginning: its mark, level and number."""
        return " ".join(
            part for part in (NEAR if self.is_near else "", self.level, self.number) if part
        )


@dataclass(frozen=True)
class Shown:
    """A finding that is a moment to stand by the stop.

    ``side``: from where to watch, in words; ``still``: PNG or None.
    """

    finding: Finding
    side: str
    still: bytes | None = None


@dataclass(frozen=True)
class PointRow:
    """A point of the program: ``values`` of all axes as displayed, then x, y, z of the tool.

    ``is_weld``: the arc is on there.
    """

    name: str
    values: tuple[str, ...]
    is_weld: bool

    @property
    def mark(self) -> str:
        """Its name, with a star where the arc is on."""
        return f"{self.name} *" if self.is_weld else self.name


@dataclass(frozen=True)
class Moment:
    """When to stand by the stop, what to watch and from which side; ``still`` PNG or None."""

    number: int
    when: str
    level: str
    what: str
    side: str
    still: bytes | None


@dataclass(frozen=True)
class Line:
    """A finding in a list: ``lead`` is its level and move."""

    lead: str
    text: str


@dataclass(frozen=True)
class SheetContent:
    """What stands on a sheet. ``verdict`` and ``is_stop``: the line at the top.

    ``moments_note``: what to know of the moments as a whole; ``no_stills``: why there are no
    pictures. ``notes``: what else a person must hear of the check. Empty when there is nothing.
    ``doubts``: findings about the model and no move. ``seams``: where each seam lies on the part.
    ``numbers``: weave, process, angles, position and reserves of the seams and of the program.
    ``setup``: torch, tool centre point, wire and process as the model has them.
    ``labels``: program, part, job and revision, as far as they are said. ``points``: the program's,
    under ``points_heads``. ``plan``: the cell from above. ``remarks``: lines from the cell.
    ``boxes``: what to tick for the first run and ``arc_on``: for the first one with the arc on;
    none on a sheet of what must not be run. One that says stop has ``to_cure`` in their place.
    """

    title: str
    files: str
    all_files: str
    fingerprint: str
    date: str
    totals: str
    notes: tuple[str, ...]
    verdict: str
    is_stop: bool
    seconds_head: str
    rows: tuple[Row, ...]
    moments: tuple[Moment, ...]
    moments_note: str
    no_stills: str
    wrist: tuple[Line, ...]
    findings: tuple[Line, ...]
    unknown: tuple[str, ...]
    placement: tuple[str, ...]
    boxes: tuple[str, ...]
    caution: str
    doubts: tuple[Line, ...] = ()
    seams: tuple[str, ...] = ()
    to_cure: tuple[str, ...] = ()
    setup: tuple[str, ...] = ()
    arc_on: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()
    labels: tuple[tuple[str, str], ...] = ()
    points_heads: tuple[str, ...] = ()
    points: tuple[PointRow, ...] = ()
    plan: Plan | None = None
    remarks: tuple[str, ...] = ()

    @property
    def findings_title(self) -> str:
        """Return the heading of the findings that stand nowhere else on the sheet."""
        return "More findings" if self.moments or self.doubts else "Findings"

    @property
    def moments_title(self) -> str:
        """Return the heading of the moments: where to stand by, unless it is not to be run."""
        title = "Look here first" if self.is_stop else "Hand on the stop"
        return f"{title} ({NEAR} in the table)" if any(row.is_near for row in self.rows) else title

    @property
    def boxes_title(self) -> str:
        """Return the heading over the boxes, or over what has to be cured."""
        if self.is_stop:
            return "Cure first, then check again"
        return "Before and during the first run, arc off" if self.boxes else ""

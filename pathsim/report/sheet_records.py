"""What stands on a first-run sheet, as plain records."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.findings import Finding


@dataclass(frozen=True)
class Row:
    """One move of the program. ``is_near``: one of the moments to stand by lies in it."""

    number: str
    kind: str
    way: str
    speed: str
    seconds: str
    clear_by: str
    at: str
    to: str
    is_near: bool


@dataclass(frozen=True)
class Shown:
    """A finding that is a moment to stand by the stop.

    ``side``: from where to watch, in words; ``still``: PNG or None.
    """

    finding: Finding
    side: str
    still: bytes | None = None


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

    @property
    def findings_title(self) -> str:
        """Return the heading of the findings that stand nowhere else on the sheet."""
        return "More findings" if self.moments else "Findings"

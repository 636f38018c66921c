"""What a cell is called on paper: program, part, job, revision, and what else to know."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.model import sound


@dataclass(frozen=True)
class Labels:
    """Names on a first-run sheet; empty where nobody said one.

    ``program``: its name in the controller. ``part``: name or number of what is welded. ``job``,
    ``revision``: as the shop counts them. ``remarks``: what to know at the cell, a line each.
    """

    program: str = ""
    part: str = ""
    job: str = ""
    revision: str = ""
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        sound.put(self, remarks=sound.records("labels: remarks", self.remarks, str, "texts"))
        for name in ("program", "part", "job", "revision"):
            sound.record(f"labels: {name}", getattr(self, name), str, "a text")

    @property
    def rows(self) -> tuple[tuple[str, str], ...]:
        """What is said, each with what it is, but for the remarks."""
        names = (("program", "Program"), ("part", "Part"), ("job", "Job"), ("revision", "Revision"))
        return tuple((word, getattr(self, name)) for name, word in names if getattr(self, name))

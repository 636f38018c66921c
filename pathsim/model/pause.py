"""What the arm stands for behind a move: a signal of somebody else, or the wire that is inched."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.model import sound

#: More than this is in a wrong unit, m and s.
MOST_INCH, LONGEST_PAUSE = 0.2, 3600.0


@dataclass(frozen=True)
class Pause:
    """Either ``wait_for`` names who gives the signal, or ``inch`` m of wire are fed, back below 0.

    ``seconds``: how long the arm stands; of a signal at the least. Raises CellError when it cannot
    be meant.
    """

    seconds: float
    wait_for: str = ""
    inch: float = 0.0

    def __post_init__(self) -> None:
        sound.number("pause: seconds", self.seconds, "s", low=0.0, high=LONGEST_PAUSE)
        sound.number("pause: inch", self.inch, "m", low=-MOST_INCH, high=MOST_INCH)
        if bool(self.wait_for) == bool(self.inch):
            sound.refuse("pause", self, "either somebody to wait for, or wire to inch")

    @property
    def words(self) -> str:
        """Say it in few words."""
        if self.wait_for:
            return f"wait for {self.wait_for}, at least {self.seconds:g} s"
        way = "forward" if self.inch > 0 else "back"
        return f"inch {abs(self.inch) * 1e3:g} mm of wire {way}"

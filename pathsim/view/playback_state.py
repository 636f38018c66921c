"""What the window is showing, as a state that keys, clicks and time change; no drawing here."""

from __future__ import annotations

from dataclasses import dataclass, replace

SLOW = 0.25
#: One press of an arrow key, s of the program; with shift ten times as much.
STEP = 0.1
CAMERAS = ("1", "2", "3", "4")
HELP = (
    ("space", "play, pause"),
    ("s", "quarter speed"),
    ("left, right", "a tenth of a second back, on"),
    ("shift and left, right", "a second back, on"),
    ("home, end", "start, end"),
    ("n, p", "next, previous finding"),
    ("w", "why the chosen finding came about, and what cures it"),
    ("1 2 3 4", "at the seam, whole cell, from above, along the seam"),
    ("mouse", "turn, move and zoom; on the chart: move through time"),
    ("?", "this list"),
    ("q", "close"),
)


@dataclass(frozen=True)
class Player:
    """State of a showing. ``camera``: "1".."4", "finding" or "free" (turned by hand).

    ``finding``: index of the chosen finding, None when none was chosen.
    """

    duration: float
    findings: tuple[float | None, ...]
    time: float = 0.0
    playing: bool = False
    slow: bool = False
    camera: str = "1"
    finding: int | None = None
    help_shown: bool = False
    why_shown: bool = False
    closed: bool = False

    def tick(self, seconds: float) -> Player:
        """Let wall-clock time pass; playing stops at the end."""
        if not self.playing:
            return self
        time = self.time + seconds * (SLOW if self.slow else 1.0)
        if time >= self.duration:
            return replace(self, time=self.duration, playing=False)
        return replace(self, time=time)

    def at(self, time: float) -> Player:
        """Move to a time, within the program."""
        return replace(self, time=min(max(time, 0.0), self.duration))

    def choose(self, index: int) -> Player:
        """Go to a finding: its moment if it has one, and the camera on its gap or its bodies."""
        if not 0 <= index < len(self.findings):
            return self
        time = self.findings[index]
        there = self if time is None else self.at(time)
        return replace(there, finding=index, camera="finding", playing=False)

    def step(self, by: int) -> Player:
        """Go to the next or previous finding, round and round."""
        if not self.findings:
            return self
        if self.finding is None:
            return self.choose(0 if by > 0 else len(self.findings) - 1)
        return self.choose((self.finding + by) % len(self.findings))

    def turned_by_hand(self) -> Player:
        """Leave the camera to the mouse."""
        return replace(self, camera="free")

    def key(self, name: str, *, shift: bool = False) -> Player:
        """Press a key, by its usual name."""
        step = STEP * (10 if shift else 1)
        if name == "slash" and shift:
            name = "question"  # some keyboards name the key and not the sign
        if name in CAMERAS:
            return replace(self, camera=name)
        if name == "space":
            again = not self.playing and self.time >= self.duration
            return replace(self, playing=not self.playing, time=0.0 if again else self.time)
        actions = {
            "s": lambda: replace(self, slow=not self.slow),
            "Left": lambda: replace(self.at(self.time - step), playing=False),
            "Right": lambda: replace(self.at(self.time + step), playing=False),
            "Home": lambda: self.at(0.0),
            "End": lambda: replace(self.at(self.duration), playing=False),
            "n": lambda: self.step(1),
            "p": lambda: self.step(-1),
            "question": lambda: replace(self, help_shown=not self.help_shown, why_shown=False),
            "w": lambda: replace(self, why_shown=not self.why_shown, help_shown=False),
            "Escape": lambda: replace(self, help_shown=False, why_shown=False),
            "q": lambda: replace(self, closed=True),
        }
        action = actions.get(name)
        return self if action is None else action()


def opened(duration: float, findings: tuple[float | None, ...]) -> Player:
    """Open on the gravest finding that has a moment, else at the seam at the start."""
    player = Player(duration, findings)
    first = next((k for k, time in enumerate(findings) if time is not None), None)
    return player if first is None else player.choose(first)


def kept(
    old: Player, duration: float, findings: tuple[float | None, ...], finding: int | None
) -> Player:
    """Return the state after the cell was checked again: time and camera stay.

    ``finding``: where the chosen finding stands now, None when it is gone.
    """
    camera = "free" if old.camera == "finding" else old.camera
    return replace(
        old,
        duration=duration,
        findings=findings,
        finding=finding,
        camera=camera,
        time=min(old.time, duration),
    )

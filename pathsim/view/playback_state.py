"""What the window is showing, as a state that keys, clicks and time change; no drawing here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from pathsim.view.time_axis import WHOLE, AxisMode, Zoom

SLOW = 0.25
#: Quick play, from one press of the key to the next, times real time.
FAST = (2.0, 5.0, 10.0)
#: One press of an arrow key, s of the program; with shift ten times as much.
STEP = 0.1
CAMERAS = ("1", "2", "3", "4")
#: A loop round a finding: so long before and after its moment, s.
LOOP_BEFORE, LOOP_AFTER = 1.0, 0.6
_ZOOM, _PAN = 1.5, 0.2
HELP = (
    ("space", "play, pause"),
    ("s", "quarter speed"),
    ("f", "quick play: 2, 5, 10 times"),
    ("l", "loop round the chosen finding"),
    ("left, right", "0.1 s back, on; with shift 1 s"),
    ("home, end", "start, end"),
    ("up, down", "previous, next point of the program"),
    ("n, p", "next, previous finding"),
    ("w", "why the chosen finding came about, and its cure"),
    ("g", "proposal over the picture: its path, new points and postures"),
    ("t", "take the proposal: write it as a new cell; asks first (y, n)"),
    ("1 2 3 4", "at the seam, whole cell, from above, along the seam"),
    ("e", "chart: equal width per move, or by time"),
    ("+, -", "zoom the chart; mouse wheel too"),
    ("comma, point", "pan the chart"),
    ("d, h, i", "body under the mouse: fade, hide, alone"),
    ("m", "measure: then click two places"),
    ("x", "section: off, three ways through what is looked at"),
    ("F2", "screenshot beside the cell"),
    ("F11", "full screen"),
    ("r", "reset: camera, chart, bodies, section, speed"),
    ("mouse", "turn, move, zoom; point at a body or the path to read it"),
    ("?, esc", "this list; close what is open"),
    ("q", "close"),
)


@dataclass(frozen=True)
class Player:
    """State of a showing. ``camera``: "1".."4", "finding" or "free" (turned by hand).

    ``finding``: index of the chosen finding, None when none was chosen. ``points``: when each
    point of the program is reached, s. ``speed``: times real time. ``axis``, ``zoom``: of the
    chart. ``list_from``, ``moves_from``: first row of the lists when they were scrolled by hand.
    ``bodies``: names that are "faded", "hidden" or "alone". ``section``: 0 off, else the way of
    its normal. ``measuring``: clicks on the stage are places to measure. ``shots`` goes up with
    each screenshot that is asked for, ``resets`` with each reset. ``ghost_shown``: the proposal for
    the chosen finding is drawn. ``asking``: whether to write it; ``writes`` goes up with each yes.
    """

    duration: float
    findings: tuple[float | None, ...]
    time: float = 0.0
    playing: bool = False
    speed: float = 1.0
    camera: str = "1"
    finding: int | None = None
    help_shown: bool = False
    why_shown: bool = False
    closed: bool = False
    points: tuple[float, ...] = ()
    axis: AxisMode = AxisMode.MOVES
    zoom: Zoom = WHOLE
    loop: bool = False
    list_from: int | None = None
    moves_from: int | None = None
    bodies: tuple[tuple[str, str], ...] = ()
    section: int = 0
    measuring: bool = False
    full_screen: bool = False
    shots: int = 0
    resets: int = 0
    ghost_shown: bool = False
    asking: bool = False
    writes: int = 0

    @property
    def wants_cure(self) -> bool:
        """Tell whether the chosen finding's cure has to be known."""
        is_wanted = self.why_shown or self.ghost_shown or self.asking
        return is_wanted and self.finding is not None

    @property
    def slow(self) -> bool:
        """Less than real time."""
        return self.speed < 1.0

    def tick(self, seconds: float) -> Player:
        """Let wall-clock time pass; playing stops at the end, or goes round in a loop."""
        if not self.playing:
            return self
        time = self.time + seconds * self.speed
        span = self.looped
        if span is not None and not span[0] <= time < span[1]:
            return replace(self, time=span[0])
        if time >= self.duration:
            return replace(self, time=self.duration, playing=False)
        return replace(self, time=time)

    @property
    def looped(self) -> tuple[float, float] | None:
        """From when to when playing goes round; None when it does not."""
        moment = None if self.finding is None else self.findings[self.finding]
        if not self.loop or moment is None:
            return None
        return max(moment - LOOP_BEFORE, 0.0), min(moment + LOOP_AFTER, self.duration)

    def at(self, time: float) -> Player:
        """Move to a time, within the program."""
        return replace(self, time=min(max(time, 0.0), self.duration))

    def choose(self, index: int) -> Player:
        """Go to a finding: its moment if it has one, and the camera on its gap or its bodies."""
        if not 0 <= index < len(self.findings):
            return self
        time = self.findings[index]
        there = self if time is None else self.at(time)
        return replace(
            there, finding=index, camera="finding", playing=False, list_from=None,
            moves_from=None, asking=False,
        )  # fmt: skip

    def step(self, by: int) -> Player:
        """Go to the next or previous finding, round and round."""
        if not self.findings:
            return self
        if self.finding is None:
            return self.choose(0 if by > 0 else len(self.findings) - 1)
        return self.choose((self.finding + by) % len(self.findings))

    def to_point(self, by: int) -> Player:
        """Go to the next or previous point of the program."""
        near = 1e-6
        if by > 0:
            time = next((t for t in self.points if t > self.time + near), self.duration)
        else:
            time = next((t for t in reversed(self.points) if t < self.time - near), 0.0)
        return replace(self.at(time), playing=False, moves_from=None)

    def turned_by_hand(self) -> Player:
        """Leave the camera to the mouse."""
        return replace(self, camera="free")

    def with_body(self, name: str, how: str) -> Player:
        """Fade, hide or isolate a body; again: as before."""
        known = dict(self.bodies)
        if known.get(name) == how:
            del known[name]
        else:
            if how == "alone":
                known = {other: state for other, state in known.items() if state != "alone"}
            known[name] = how
        return replace(self, bodies=tuple(known.items()))

    def reset(self) -> Player:
        """Return to how the window opened; the moment and the finding stay."""
        fresh = Player(self.duration, self.findings, points=self.points)
        camera = "1" if self.finding is None else "finding"
        return replace(
            fresh, time=self.time, finding=self.finding, camera=camera, shots=self.shots,
            full_screen=self.full_screen, resets=self.resets + 1, writes=self.writes,
        )  # fmt: skip

    def key(self, name: str, *, shift: bool = False) -> Player:
        """Press a key, by its usual name."""
        if self.asking:
            return self._answered(name)
        step = STEP * (10 if shift else 1)
        if name == "slash" and shift:
            name = "question"  # some keyboards name the key and not the sign
        if name in CAMERAS:
            return replace(self, camera=name)
        if name == "space":
            again = not self.playing and self.time >= self.duration
            return replace(self, playing=not self.playing, time=0.0 if again else self.time)
        actions: dict[str, Callable[[], Player]] = {
            "s": lambda: replace(self, speed=1.0 if self.slow else SLOW),
            "f": lambda: replace(self, speed=_next(self.speed, (1.0, *FAST))),
            "l": lambda: replace(self, loop=not self.loop),
            "Left": lambda: replace(self.at(self.time - step), playing=False),
            "Right": lambda: replace(self.at(self.time + step), playing=False),
            "Up": lambda: self.to_point(-1),
            "Down": lambda: self.to_point(1),
            "Home": lambda: self.at(0.0),
            "End": lambda: replace(self.at(self.duration), playing=False),
            "n": lambda: self.step(1),
            "p": lambda: self.step(-1),
            "e": lambda: self.with_axis(
                AxisMode.TIME if self.axis is AxisMode.MOVES else AxisMode.MOVES
            ),
            "comma": lambda: replace(self, zoom=self.zoom.moved(-_PAN)),
            "period": lambda: replace(self, zoom=self.zoom.moved(_PAN)),
            "x": lambda: replace(self, section=(self.section + 1) % 4),
            "m": lambda: replace(self, measuring=not self.measuring),
            "F2": lambda: replace(self, shots=self.shots + 1),
            "F11": lambda: replace(self, full_screen=not self.full_screen),
            "r": self.reset,
            "question": lambda: replace(self, help_shown=not self.help_shown, why_shown=False),
            "w": lambda: replace(self, why_shown=not self.why_shown, help_shown=False),
            "g": lambda: self._with_ghost(on=not self.ghost_shown),
            "t": lambda: replace(self, asking=self.finding is not None, playing=False),
            "Escape": lambda: replace(
                self, help_shown=False, why_shown=False, measuring=False, ghost_shown=False
            ),
            "q": lambda: replace(self, closed=True),
        }
        action = actions.get(name)
        return self if action is None else action()

    def _answered(self, name: str) -> Player:
        """Press a key while a question stands: it waits for yes or no."""
        if name == "y":
            return replace(self, asking=False, writes=self.writes + 1)
        return replace(self, asking=False) if name in {"n", "Escape"} else self

    def _with_ghost(self, *, on: bool) -> Player:
        """Show or hide the proposal; the eye goes to where it is."""
        if self.finding is None:
            return self
        return replace(self, ghost_shown=on, camera="finding", playing=False, help_shown=False)

    def with_axis(self, axis: AxisMode) -> Player:
        """Show the chart by time or by moves, whole."""
        return replace(self, axis=axis, zoom=WHOLE)

    def zoomed(self, share: float, factor: float) -> Player:
        """Zoom the chart about a share of its axis."""
        return replace(self, zoom=self.zoom.about(share, factor))


def zoom_of_key(name: str) -> float | None:
    """Return by how much a key zooms the chart; None for other keys."""
    if name in {"plus", "equal", "KP_Add"}:
        return _ZOOM
    return 1 / _ZOOM if name in {"minus", "KP_Subtract"} else None


def _next(value: float, choices: tuple[float, ...]) -> float:
    index = choices.index(value) + 1 if value in choices else 1
    return choices[index % len(choices)]


def opened(
    duration: float, findings: tuple[float | None, ...], points: tuple[float, ...] = ()
) -> Player:
    """Open on the gravest finding that has a moment, else at the seam at the start."""
    player = Player(duration, findings, points=points)
    first = next((k for k, time in enumerate(findings) if time is not None), None)
    return player if first is None else player.choose(first)


def kept(
    old: Player, duration: float, findings: tuple[float | None, ...], finding: int | None,
    points: tuple[float, ...] = (),
) -> Player:  # fmt: skip
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
        points=points,
        list_from=None,
        moves_from=None,
        ghost_shown=old.ghost_shown and finding is not None,
        asking=False,
    )

"""The scene: everything that a picture, a window or a page draws, in m, s and the world frame."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from pathsim.check import CheckResult
from pathsim.clearance import Span
from pathsim.clearance.records import ClearanceProfile
from pathsim.findings import Level
from pathsim.scene.camera_fit import Camera
from pathsim.scene.gap import Gap
from pathsim.transforms import Array


class Symbol(StrEnum):
    """Mark of a finding; shape tells it apart, not colour."""

    CROSS = "cross"  # contact
    DIAMOND = "diamond"  # near-hit
    RINGS = "rings"  # wrist zone
    BAR = "bar"  # the arm cannot do it
    DOT = "dot"  # anything else


@dataclass(frozen=True, eq=False)
class SceneMesh:
    """Triangles. ``link`` None: stands, vertices in the world; else in that link's frame.

    ``core``: what is drawn solid inside; then the mesh itself is room that the core may take, and
    is drawn like glass. ``since``: s from the program's start, before which it does not stand.
    """

    name: str
    grey: str
    link: int | None
    vertices: Array
    faces: NDArray[np.int64]
    core: SceneMesh | None = None
    since: float = 0.0


@dataclass(frozen=True, eq=False)
class PathLine:
    """The tip's way on one move: ``points (n, 3)`` at ``t (n,)``, ``band (n-1,)`` of clearance.

    Band -1: not checked, or far from what was measured while something was not.
    """

    move: int
    t: Array
    points: Array
    band: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Detour:
    """Straight line that people expect of a joint move, and where the tip is farthest from it."""

    move: int
    start: Array
    end: Array
    on_line: Array
    on_path: Array
    distance: float


@dataclass(frozen=True, eq=False)
class FindingMark:
    """A finding with its place. ``hides``: names of meshes between the camera and the gap."""

    number: int
    level: Level
    symbol: Symbol
    headline: str
    text: str
    time: float | None
    move: int | None
    spans: tuple[Span, ...]
    place: Array | None
    gap: Gap | None
    camera: Camera | None
    hides: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class PointName:
    """A taught point's name at the tip's place."""

    name: str
    place: Array


@dataclass(frozen=True)
class MoveBand:
    """One move on the chart's time axis. ``is_whole`` False: it could not be laid to its end."""

    number: int
    kind: str
    start_name: str
    end_name: str
    start: float
    end: float
    is_whole: bool
    belongs_to: str = ""

    @property
    def route(self) -> str:
        """Where it goes, and which part of a line of the program it is."""
        way = f"{self.start_name} > {self.end_name}"
        return f"{way} ({self.belongs_to})" if self.belongs_to else way

    @property
    def words(self) -> str:
        """Say the move as a programmer would."""
        return f"move {self.number}, {self.kind}: {self.route}"


@dataclass(frozen=True, eq=False)
class Ring:
    """A ring round the path in a wrist zone: ``points (n, 3)``, closed."""

    move: int
    points: Array


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything to draw. Numbers are the result's own.

    ``contact_spans``: when anything touches anything.
    ``unchecked``: sentences of the result about things that should have been measured and were
    not. While there are any, no distance to the rest is shown as if it were the whole truth.
    """

    result: CheckResult
    profile: ClearanceProfile
    meshes: tuple[SceneMesh, ...]
    paths: tuple[PathLine, ...]
    detours: tuple[Detour, ...]
    rings: tuple[Ring, ...]
    marks: tuple[FindingMark, ...]
    names: tuple[PointName, ...]
    bands: tuple[MoveBand, ...]
    cameras: tuple[Camera, ...]
    wrist_spans: tuple[Span, ...]
    unchecked: tuple[str, ...] = ()
    contact_spans: tuple[Span, ...] = ()

    @property
    def duration(self) -> float:
        """Seconds of the program."""
        return self.result.trajectory.duration

    def poses_at(self, time: float) -> Array:
        """``T_world_link (links, 4, 4)`` at ``time``, the turning table's behind the arm's."""
        cell = self.result.cell
        q = self.result.trajectory.q_at(time)
        return np.asarray(cell.link_poses(q[None])[0])

    def band_at(self, time: float) -> MoveBand:
        """Return the move at ``time``."""
        for band in self.bands:
            if time <= band.end:
                return band
        return self.bands[-1]

    def _segment(self, time: float) -> int:
        """Index of the profile's stretch that holds ``time``; of two that meet there, the nearer.

        At the border of two moves the one behind counts only when it goes on from there: where
        a move breaks off, the next one starts somewhere else.
        """
        t, known = self.profile.t, self.profile.guaranteed
        k = int(np.clip(np.searchsorted(t, time, side="left") - 1, 0, max(len(t) - 2, 0)))
        behind = k + 1
        while behind < len(known) and t[behind] == t[behind + 1] == time:
            track = self.result.trajectory.tracks[self.profile.move[behind + 1] - 1]
            if not track.continuous:
                return k
            behind += 1
        meet = behind < len(known) and t[behind] == time
        return behind if meet and known[behind] < known[k] else k

    def guaranteed_at(self, time: float) -> float:
        """Guaranteed clearance of the stretch that holds ``time``, m; nan when not checked."""
        if len(self.profile.t) < 2:
            return float("nan")
        return float(self.profile.guaranteed[self._segment(time)])

    def gap_at(self, time: float) -> Gap | None:
        """Return the nearest pair at ``time``; None when farther than the cap or not checked."""
        profile = self.profile
        if len(profile.t) < 2:
            return None
        k = self._segment(time)
        a, b = profile.t[k], profile.t[k + 1]
        share = 0.0 if b == a else (time - a) / (b - a)
        near = k if share < 0.5 else k + 1
        if not np.isfinite(profile.seen[near]) or np.isnan(profile.guaranteed[k]):
            return None
        pair = (profile.piece[near], profile.body[near])
        moving, standing = profile.on_moving[near], profile.on_standing[near]
        if (profile.piece[k], profile.body[k]) == (profile.piece[k + 1], profile.body[k + 1]):
            moving = (1 - share) * profile.on_moving[k] + share * profile.on_moving[k + 1]
            standing = (1 - share) * profile.on_standing[k] + share * profile.on_standing[k + 1]
        margin = float(np.nan_to_num(profile.margin[k]))
        return Gap(moving, standing, float(profile.guaranteed[k]), *pair, margin)

    def margin_at(self, time: float) -> float:
        """Margin of the stretch that holds ``time``, m; 0 where none is asked for."""
        if len(self.profile.t) < 2:
            return 0.0
        return float(np.nan_to_num(self.profile.margin[self._segment(time)]))

    def band_of_move(self, number: int) -> MoveBand:
        """Return a move by its number from 1."""
        return self.bands[number - 1]

    def tightest(self) -> float:
        """Return the moment with the least guaranteed clearance to spare over its margin, s."""
        profile = self.profile
        spare = profile.guaranteed - np.nan_to_num(profile.margin)
        if not np.isfinite(spare).any():
            return 0.0
        k = int(np.nanargmin(spare))
        return float(profile.t[k] + profile.t[k + 1]) / 2

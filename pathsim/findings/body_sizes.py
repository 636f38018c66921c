"""Bodies of a wrong size: told by their role, and by the seam, the bodies and the arm beside them.

A part that is 25.4 times too small is a false clear, one that is too large touches everything.
Where a body cannot be as it is, other units are tried; one is named only where it would fit.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from enum import Enum
from functools import cached_property, lru_cache, partial
from typing import NamedTuple

import numpy as np

from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.findings.boxes import STANDS, are_borne, in_box, rests
from pathsim.findings.doubt import Doubt
from pathsim.findings.drawn_in import Guess, guesses, question
from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.findings.point_distance import surface_distance
from pathsim.model import Body, Cell, Role
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, apply
from pathsim.units import millimetres


class _Range(NamedTuple):
    """Longest side of a body: what is usual, and beyond what nothing is, m (common practice)."""

    least: float
    low: float
    high: float
    most: float


_RANGES = {
    Role.PART: _Range(0.004, 0.012, 12.0, 60.0),
    Role.FIXTURE: _Range(0.006, 0.012, 8.0, 20.0),
    Role.CLAMP: _Range(0.012, 0.025, 0.8, 1.6),
    Role.TABLE: _Range(0.12, 0.12, 8.0, 20.0),
    Role.OTHER: _Range(0.004, 0.012, 20.0, 80.0),
}
#: So near a seam's end lies on a part, m.
_ON_SEAM = 3e-3
#: A body this much smaller than what floats above it may be what should bear it.
_SMALL = 0.35
#: A stand this much narrower both ways than what stands on it is no stand.
_NARROW = 0.5
#: A part this much shorter than a seam is looked at: does the seam lie on a larger one?
_SHORT = 0.5
#: Places of a seam that tell how far it extends, and what they are kept under.
_LOOKS, _PLACES = 9, "places that tell how far a seam extends"
#: A body that touches on so large a share of the moves may be too large.
_OFTEN = 0.5
#: Boxes that lie in one another by more than this share of the smaller one's side overlap.
_DEEP = 0.2


def body_doubts(evidence: Evidence, findings: Sequence[Finding]) -> Iterator[Doubt]:
    """Yield one doubt for each body whose size cannot be right; ``findings``: what it does."""
    bodies = evidence.cell.bodies
    if not bodies:
        return
    look = _Look(evidence, findings)
    for index, body in enumerate(bodies):
        reasons = look.reasons(index)
        fits = look.fitting(index, reasons) if reasons else []
        if fits or look.is_impossible(index):
            yield _doubt(body, look.sizes[index], reasons[0].said, fits)


def _doubt(body: Body, size: float, reason: str, fits: list[_Fit]) -> Doubt:
    text, numbers = f"The {body.name} is {_length(size)} long{reason}.", {"size": size}
    if not fits:
        text += " Is its unit right?"
    else:
        numbers["factor"] = fits[0].guess.factor
        asked = question([fit.guess for fit in fits])
        sizes = " or ".join(_length(size * fit.guess.factor) for fit in fits)
        why = f" and {fits[0].why}" if fits[0].why else ""
        text += f" Is it {asked}? Then it is {sizes} long{why}."
    finding = Finding(Level.WATCH, FindingKind.UNLIKELY_UNIT, text, body=body.name, numbers=numbers)
    return Doubt(finding, bodies=frozenset([body.name]))


def _length(metres: float) -> str:
    return millimetres(metres, 0 if metres >= 0.0995 else 1)


class _Reason(Enum):
    """Why a body's size is looked at."""

    RANGE = "range"
    SEAM = "seam"
    BEARS = "bears"
    UNDER = "under"
    IN_THE_WAY = "in the way"


class _Suspicion(NamedTuple):
    """A reason with how it is said behind the body's size."""

    reason: _Reason
    said: str


class _Fit(NamedTuple):
    """A guess with which a body would fit, and what says so; the more ``signs`` the better."""

    guess: Guess
    signs: int
    why: str


class _Look:
    """Boxes and seams of a cell, and what they say of a body's size."""

    def __init__(self, evidence: Evidence, findings: Sequence[Finding]) -> None:
        self._evidence, self._bodies = evidence, evidence.cell.bodies
        self._boxes = np.array([body.bounds for body in self._bodies])
        self.sizes = [float(np.ptp(body.mesh.bounds, axis=0).max()) for body in self._bodies]
        self._parts = [i for i, body in enumerate(self._bodies) if body.role is Role.PART]
        touched = [(f.body, f.move) for f in findings if f.kind is FindingKind.CONTACT]
        least = max(2.0, _OFTEN * len(evidence.moves))
        self._often = [
            len({move for name, move in touched if name == body.name}) >= least
            for body in self._bodies
        ]
        self._floats = np.flatnonzero(~are_borne(self._boxes))
        self._base = _base_box(evidence.cell)

    def is_impossible(self, index: int) -> bool:
        """Tell whether nothing of a body's role is of its size."""
        usual = _RANGES[self._bodies[index].role]
        return not usual.least <= self.sizes[index] <= usual.most

    def reasons(self, index: int) -> list[_Suspicion]:
        """Return why other units are worth trying on a body: cheap, by boxes alone."""
        body, size = self._bodies[index], self.sizes[index]
        usual = _RANGES[body.role]
        found = []
        if not usual.low <= size <= usual.high:
            what = "body" if body.role is Role.OTHER else str(body.role)
            found.append(_Suspicion(_Reason.RANGE, f", unusual for a {what}"))
        if body.role is Role.PART and self._may_miss_a_seam(index):
            found.append(_Suspicion(_Reason.SEAM, " and no seam lies on it"))
        if self._often[index] and self._overlaps(index, self._boxes[index]):
            found.append(_Suspicion(_Reason.IN_THE_WAY, " and in the way of most moves"))
        if self._is_under_a_larger(index, 1.0):
            found.append(_Suspicion(_Reason.UNDER, " and narrower than what stands on it"))
        if any(size < _SMALL * self.sizes[k] for k in self._floats if k != index):
            found.append(_Suspicion(_Reason.BEARS, ", too small to bear what is above it"))
        return found

    def _may_miss_a_seam(self, index: int) -> bool:
        """Tell whether a seam is beside all parts, or is on another and much longer than this."""
        for ends, length in self._seams:
            if not any(in_box(self._boxes[i], ends, _ON_SEAM) for i in self._parts):
                return True
            if self.sizes[index] < _SHORT * length:
                return True
        return False

    @cached_property
    def _seams(self) -> list[tuple[Array, float]]:
        return _seam_ends(self._evidence)

    def fitting(self, index: int, reasons: list[_Suspicion]) -> list[_Fit]:
        """Return the guess that fits best, the smallest change first; two that nothing tells apart.

        Empty when nothing speaks for any.
        """
        body, usual = self._bodies[index], _RANGES[self._bodies[index].role]
        fits = []
        for guess in guesses(body.unit):
            if usual.low <= self.sizes[index] * guess.factor <= usual.high:
                why = self._signs(index, guess.factor, reasons)
                if why:
                    fits.append(_Fit(guess, sum(sign for sign, _ in why), why[0][1]))
        fits.sort(key=lambda f: (-f.signs, not f.guess.drawn, abs(math.log(f.guess.factor))))
        if not fits or fits[0].why:
            return fits[:1]
        alike = [f for f in fits if bool(f.guess.drawn) == bool(fits[0].guess.drawn)]
        return alike[:2] if fits[0].guess.drawn else alike[:1]

    def _signs(self, index: int, factor: float, reasons: list[_Suspicion]) -> list[tuple[int, str]]:
        """Return what speaks for a factor, the strongest first, with its weight."""
        body, box = self._bodies[index], self._boxes[index]
        there = self._scaled(index, factor)
        asked = {one.reason for one in reasons}
        said: list[tuple[int, str]] = []
        is_welded = body.role is Role.PART and asked != {_Reason.BEARS}
        if is_welded and self._seams_on(index, factor) > self._seams_on(index, 1.0):
            said.append((4, "the seam lies on it"))
        bears = [k for k in self._floats if k != index and rests(self._boxes[k], there)]
        if bears:
            said.append((3, f"bears the {self._bodies[bears[0]].name}"))
        if _Reason.UNDER in asked and not self._is_under_a_larger(index, factor):
            said.append((2, "as wide as what stands on it"))
        # Of a part the seam tells: one that is hit often may as well be a base that stands wrong.
        if _Reason.IN_THE_WAY in asked and factor < 1 and body.role is not Role.PART:
            fewer = self._overlaps(index, there) < self._overlaps(index, box)
            if fewer and not self._is_among_the_arm(there):
                said.append((2, "is out of the arm's way"))
        # What is large is hit, and asks for no more alarm; what is small is not, and is missed.
        is_small = self.sizes[index] < _RANGES[body.role].low
        if _Reason.RANGE in asked and (is_small or self.is_impossible(index)):
            said.append((1, ""))
        return said

    def _seams_on(self, index: int, factor: float) -> int:
        """Count the seams both ends of which lie on the surface of a part of another size."""
        body, there = self._bodies[index], self._scaled(index, factor)
        near = [ends for ends, _ in self._seams if in_box(there, ends, _ON_SEAM)]
        if not near:
            return 0
        scaled = body.mesh.moved(np.diag([factor, factor, factor, 1.0]))
        shape = Shape(scaled.moved(body.T_world_body))
        gaps = [[surface_distance(shape, end) for end in ends] for ends in near]
        return sum(max(pair) < _ON_SEAM for pair in gaps)

    def _is_under_a_larger(self, index: int, factor: float) -> bool:
        """Tell whether the arm's base, or what stands on a table, is far wider than its stand."""
        body = self._bodies[index]
        there = self._scaled(index, factor)
        others = [] if self._base is None else [self._base]
        if body.role is Role.TABLE:
            others += [box for k, box in enumerate(self._boxes) if k != index]
        for box in others:
            if rests(box, self._boxes[index]) and self._bearers(box) == 1:
                wide, needed = np.ptp(there, axis=0)[:2], np.ptp(box, axis=0)[:2]
                if (wide < _NARROW * needed).all():
                    return True
        return False

    def _bearers(self, box: Array) -> int:
        return sum(rests(box, under) for under in self._boxes)

    def _scaled(self, index: int, factor: float) -> Array:
        """Return the box of a body drawn ``factor`` times as large about its own origin."""
        place = self._bodies[index].T_world_body[:3, 3]
        return np.asarray(place + factor * (self._boxes[index] - place))

    def _overlaps(self, index: int, box: Array) -> int:
        """Count the bodies that lie deep in a box."""
        inside = np.minimum(box[1], self._boxes[:, 1]) - np.maximum(box[0], self._boxes[:, 0])
        smaller = np.minimum(np.ptp(box, axis=0), np.ptp(self._boxes, axis=1))
        deep = (inside > _DEEP * np.maximum(smaller, 1e-6)).all(axis=1)
        deep[index] = False
        return int(deep.sum())

    def _is_among_the_arm(self, box: Array) -> bool:
        """Tell whether a box meets those of the arm where moves start and end."""
        cell = self._evidence.cell
        for track in self._evidence.trajectory.tracks:
            for T in cell.link_poses(track.q[[0, -1]]):
                for piece in cell.arm_pieces:
                    corners = apply(T[piece.link], piece.mesh.corners)
                    low, high = corners.min(axis=0), corners.max(axis=0)
                    if (np.maximum(box[0] - high, low - box[1]) <= STANDS).all():
                        return True
        return False


def _seam_ends(evidence: Evidence) -> list[tuple[Array, float]]:
    """Return the tip at both ends ``(2, 3)`` of each seam as the part sees it, and its extent."""
    found = []
    for track in evidence.trajectory.tracks:
        if track.move.arc_on and track.fault is None:
            start = track.travel_start
            times = np.linspace(start, start + track.travel_seconds, _LOOKS)
            tips = track.kept.once(_PLACES, partial(_tips, evidence.cell, track, times))
            found.append((tips[[0, -1]], float(np.ptp(tips, axis=0).max())))
    return found


@lru_cache(maxsize=4)
def _base_box(cell: Cell) -> Array | None:
    """Return the box of the arm's base in the world, None where it has no shape."""
    base = cell.link_meshes[0]
    return None if base is None else base.moved(cell.T_world_base).bounds


def _tips(cell: Cell, track: MoveTrack, times: Array) -> Array:
    return cell.tips_on_part(track.q_at(times))

"""Moves proved many at once: by how much each keeps the margins of the place where it would stand.

What a planner tries is not in any program yet. Each move is laid by itself and stands between what
is beside it there: by a weld it has the margins that a check gives it there, and not those of the
air on all its length. What joints join is asked about too, over all that the moves of one call do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from pathsim.advice.posture_looks import AirLooks, AirPairs, PostureLooks
from pathsim.clearance.asked_pairs import AskedPairs
from pathsim.clearance.contact_rules import largest_margin
from pathsim.clearance.joint_pairs import engine_pairs
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.errors import CannotCheck, MotionError
from pathsim.findings.what_if import cannot_run
from pathsim.model import Cell, Move, MoveKind, Point, Program
from pathsim.model.lever import longest_levers
from pathsim.motion import MoveTrack, Trajectory
from pathsim.motion.joint_move import lay_joint_move
from pathsim.session import Session
from pathsim.transforms import Array, BoolArray, IntArray, frozen

#: Clearance beyond the largest margin that is still told apart, as a share of that margin, and m.
_BEYOND, _AT_LEAST = 1.0, 2e-3
#: How long a posture is held that is looked at by itself, s; any time does.
_HELD = 1e-3
#: So many pairs at which moves failed are asked about first.
_SUSPECTS = 8
#: At so many moments of a window a pair is looked at that stopped other moves.
_MOMENTS = 7
#: So many moves are asked about at once: what a call costs is spread over them.
MOST_AT_ONCE = 64


@dataclass(frozen=True, eq=False)
class Edge:
    """A move that may be tried: axes ``a`` to ``b`` ``(axes,)``; the same twice is a posture.

    ``leaves``: the seam's move that ends at ``a``; ``comes``: the one that starts at ``b``.
    """

    a: Array
    b: Array
    is_straight: bool = False
    leaves: Move | None = None
    comes: Move | None = None

    @property
    def by_weld(self) -> tuple[bool, bool]:
        """Whether it leaves a weld, and whether it comes to one."""
        return self.leaves is not None, self.comes is not None

    @property
    def is_in_air(self) -> bool:
        """True of a joint move with no weld beside it: on all of it the air's margins count."""
        return not self.is_straight and not any(self.by_weld)


class EdgeProver:
    """Proves moves of one cell; all of them at the two speeds given.

    ``speed``: of joint moves, a share; ``straight``: of straight ones, m/s. ``stands_for``: index
    of the program's move in whose place they are, which tells the beads that stand. ``asked``: so
    many were asked about so far.
    """

    def __init__(
        self, cell: Cell, session: Session, speed: float, straight: float, stands_for: int = 0
    ) -> None:
        self.cell, self.asked = cell, 0
        self._stands_for = stands_for
        self._session = session
        self._joint = Move(MoveKind.JOINT, "b", speed)
        self._straight = Move(MoveKind.LINEAR, "b", straight)
        self.straight_speed = straight
        self._levers = longest_levers(cell)
        self._things = obstacles(cell)
        largest = largest_margin(cell)
        self._suspects: list[tuple[str, str]] = []
        #: The most that is said to be left over a margin, m.
        self.most = max(_BEYOND * largest, _AT_LEAST)
        self._engine = session.near_engine(cell, largest + self.most + 1e-3)

    def spare(self, edges: Sequence[Edge], *, looked_at: bool = False) -> Array:
        """Guaranteed clearance over the margin ``(n,)`` m, ``most`` at most; -inf: it cannot be.

        That is: something touches or is seen too near, a joint goes past its limit, or the move
        cannot be laid. Below zero it is only told that some pair has so little: another one may
        have less. ``looked_at``: by ``look_at``, and not again.
        """
        found = [self._some(edges[k : k + MOST_AT_ONCE], looked_at=looked_at)
                 for k in range(0, len(edges), MOST_AT_ONCE)]  # fmt: skip
        return np.concatenate(found) if found else np.zeros(0)

    def seconds(self, edge: Edge) -> float:
        """How long a move takes, s; inf where it cannot be laid."""
        track = self._laid(edge, 0)
        return float("inf") if track is None else track.duration

    def look_at(self, edges: Sequence[Edge]) -> BoolArray:
        """Tell which moves ``(n,)`` look clear at some moments; of straight ones nothing is told.

        What does not is surely too near. What does is not proved.
        """
        is_open = np.ones(len(edges), dtype=bool)
        joint = [k for k, edge in enumerate(edges) if not edge.is_straight]
        is_open[joint] = self._air.moves([(edges[k].a, edges[k].b) for k in joint], 0.0,
                                         [edges[k].by_weld for k in joint])  # fmt: skip
        return is_open

    def _some(self, edges: Sequence[Edge], *, looked_at: bool) -> Array:
        self.asked += len(edges)
        spare = np.full(len(edges), -np.inf)
        tracks: list[MoveTrack] = []
        number: dict[MoveTrack, int] = {}
        is_open = np.ones(len(edges), dtype=bool) if looked_at else self.look_at(edges)
        for k, edge in enumerate(edges):
            if not is_open[k]:
                continue
            track = self._laid(edge, len(tracks) + 1)
            if track is None:
                continue
            spare[k] = self.most
            tracks += [self._beside(edge.leaves, track.q[0], len(tracks)), track,
                       self._beside(edge.comes, track.q[-1], len(tracks) + 2)]  # fmt: skip
            number[track] = k
        if not number:
            return spare
        asked = queries_of(self.cell, Trajectory(tuple(tracks)), self._things,
                           engine_pairs(self.cell, list(number)), list(number))  # fmt: skip
        of_window = np.array([number[track] for track, _ in asked.queries.windows])
        of_query = of_window[asked.queries.window]
        # Most moves that fail do so as others did before: there a look at a few moments is enough.
        is_suspect = np.isin(asked.queries.pair, self._suspects_in(asked))
        self._look(asked, np.flatnonzero(is_suspect & ~asked.at_weld), of_query, spare)
        is_suspect = np.isin(asked.queries.pair, self._suspects_in(asked)) & asked.is_own
        for which in (np.flatnonzero(is_suspect), np.flatnonzero(~is_suspect)):
            self._measure(asked, which[spare[of_query[which]] >= 0], of_query, spare)
        return spare

    def _look(self, asked: AskedPairs, which: IntArray, of_query: IntArray, spare: Array) -> None:
        """Lower ``spare`` where a pair is nearer than its margin at one of a few moments.

        What is not seen so is not clear yet. Pairs of the arm itself are left to the engine.
        """
        which = which[~asked.is_own[which]]
        if not len(which):
            return
        queries = asked.queries
        windows, row = np.unique(queries.window[which], return_inverse=True)
        share = np.linspace(0.0, 1.0, _MOMENTS)
        held = [queries.windows[w] for w in windows.tolist()]
        q = [_along(track, span.start + share * (span.end - span.start)) for track, span in held]
        looks = PostureLooks(self.cell, self._engine, np.concatenate(q))
        for pair in np.unique(queries.pair[which]).tolist():
            mine = np.flatnonzero((queries.pair[which] == pair) & (spare[of_query[which]] >= 0))
            if not len(mine):
                continue
            margins = asked.margins[which[mine]]
            moments = (row[mine][:, None] * _MOMENTS + np.arange(_MOMENTS)).ravel()
            most, enough = float(margins.max()), float(margins.min())
            found = looks.least(queries.pairs[pair], most, moments, enough)
            least = found.reshape(len(mine), _MOMENTS).min(axis=1)
            left = np.where(least > 0.0, least - margins, -np.inf)
            short = left < 0
            np.minimum.at(spare, of_query[which[mine]][short], left[short])

    def look_off(self, postures: Sequence[Array], need: float) -> BoolArray:
        """Tell which postures ``(n,)`` look as if they kept ``need`` m over all margins of the air.

        What does not is surely too near. What does is not proved: pairs of the arm itself are not
        looked at. The moves that go there are proved with their ends.
        """
        return self._air.postures(postures, need)

    def look_along(self, moves: Sequence[tuple[Array, Array]], need: float) -> BoolArray:
        """Tell the same of joint moves ``(n,)`` in the air, by looks along them."""
        return self._air.moves(moves, need)

    @property
    def weld_radius(self) -> float:
        """How far from a weld a tip is surely in the air, m."""
        return self._air.weld_radius

    @cached_property
    def _air(self) -> AirLooks:
        """What is asked of each pair in the air."""
        home = self.cell.points[self.cell.program.start].q
        q = np.zeros(self.cell.axes.count) if home is None else home
        tracks = [self._beside(None, q, k) for k in range(3)]
        trajectory = Trajectory(tuple(tracks))
        asked = queries_of(self.cell, trajectory, self._things, [], [tracks[1]])
        which = np.flatnonzero(~asked.at_weld)
        pairs = [asked.queries.pairs[k] for k in asked.queries.pair[which].tolist()]
        return AirLooks(self.cell, self._engine, AirPairs(pairs, asked.margins[which].tolist()))

    def _measure(
        self, asked: AskedPairs, which: IntArray, of_query: IntArray, spare: Array
    ) -> None:
        """Lower ``spare`` by what some queries find."""
        if not len(which):
            return
        found = self._engine.min_distance(asked.queries.at(which))
        failed: dict[tuple[str, str], None] = {}
        margins, at_weld = asked.margins, asked.at_weld
        for k, one in zip(which.tolist(), found, strict=True):
            if one.is_capped and not one.touches:
                continue  # farther than anybody asks
            if at_weld[k] and not one.touches:
                continue  # wire and part come near there by their nature
            left = -np.inf if one.touches else one.lower - margins[k]
            edge = of_query[k]
            spare[edge] = min(spare[edge], left)
            if left < 0:
                question = asked[k].question
                failed[question.piece.name, question.standing.name] = None
        self._suspects = [*failed, *(s for s in self._suspects if s not in failed)][:_SUSPECTS]

    def _suspects_in(self, asked: AskedPairs) -> list[int]:
        """Return the pairs, by number, at which moves failed that were asked about before."""
        return [
            number
            for number, (piece, standing) in enumerate(asked.queries.pairs)
            if (piece.name, standing.name) in self._suspects
        ]

    def _beside(self, seam: Move | None, q: Array, index: int) -> MoveTrack:
        """Return what stands beside a move: its seam, or nothing that matters."""
        move = self._joint if seam is None else seam
        return MoveTrack(index, move, "a", np.array([0.0, _HELD]), np.stack([q, q]),
                         np.zeros((1, len(q))), _HELD, stands_for=self._stands_for)  # fmt: skip

    def _laid(self, edge: Edge, index: int) -> MoveTrack | None:
        axes = self.cell.axes
        if any((axes.room(q) < -1e-9).any() for q in (edge.a, edge.b)):
            return None
        if edge.is_straight:
            track = self._straight_move(edge)
            return None if track is None else track.at(0.0, index, track.move, self._stands_for)
        try:
            t, q = lay_joint_move(axes, edge.a, edge.b, self._joint.speed, self._levers)
        except MotionError:
            return None
        if len(t) == 1:
            t, q = np.array([0.0, _HELD]), np.stack([edge.a, edge.a])
        return MoveTrack(index, self._joint, "a", t, q, np.zeros((len(t) - 1, q.shape[1])),
                         float(t[-1]), stands_for=self._stands_for)  # fmt: skip

    def _straight_move(self, edge: Edge) -> MoveTrack | None:
        points = {"a": Point("a", frozen(edge.a), None), "b": Point("b", frozen(edge.b), None)}
        cell = replace(self.cell, points=points, program=Program("a", (self._straight,)))
        try:
            track = self._session.plan(cell).tracks[0]
        except (CannotCheck, MotionError):
            return None
        # Another branch would end at other joint values than those that were asked for.
        is_there = float(np.abs(track.q[-1] - edge.b).max()) < 1e-6
        return track if is_there and not cannot_run(cell, track) else None


def _along(track: MoveTrack, times: Array) -> Array:
    """Axes ``(n, axes)`` at moments of a move; of a joint move from one axis for all of them."""
    if track.move.kind is not MoveKind.JOINT:
        return track.q_at(times)
    first, way = track.q[0], track.q[-1] - track.q[0]
    longest = int(np.argmax(np.abs(way)))
    if way[longest] == 0.0:
        return np.tile(first, (len(times), 1))
    share = (np.interp(times, track.t, track.q[:, longest]) - first[longest]) / way[longest]
    return np.asarray(first + share[:, None] * way)

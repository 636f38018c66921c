"""Guaranteed clearance over time, for charts and for colouring the path."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from functools import cached_property, partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance.contact_rules import (
    Stretch,
    cable_margin,
    comes_near,
    pair_margin,
    pairs_to_measure,
    unknown_place,
)
from pathsim.clearance.engine import Engine, NearestSeen, Sampler, Span
from pathsim.clearance.engine_choice import engine_for
from pathsim.clearance.measure import measure_moves
from pathsim.clearance.move_clearance import MoveClearance
from pathsim.clearance.obstacle import Obstacle, obstacles
from pathsim.clearance.pair_table import PairClearance
from pathsim.clearance.records import ClearanceProfile
from pathsim.clearance.relative_chain import ChainOnMove, chain_id, linkage_of
from pathsim.clearance.stretches import stretches
from pathsim.each_once import each_once
from pathsim.model import Cell
from pathsim.motion import Trajectory
from pathsim.transforms import Array, BoolArray


def clearance_profile(
    cell: Cell,
    trajectory: Trajectory,
    engine: Engine | None = None,
    longest_step: float = 0.05,
    moves: tuple[MoveClearance, ...] = (),
    once: Once | None = None,
) -> ClearanceProfile:
    """Measure the nearest pair over time, at most ``longest_step`` s from look to look.

    Looks stand closer where things move fast and where the guaranteed number would
    otherwise fall far below what is seen. ``moves`` are the check's own results, worked out
    when they are not given: surfaces alone do not tell that one thing lies within another, and
    no moment is said to be less clear than its whole move was proved to be. ``once(key,
    measure)`` may return what was measured under that key before; else each move is measured.
    """
    used = engine_for(cell) if engine is None else engine
    if [move.track for move in moves] != list(trajectory.tracks):
        moves = measure_moves(cell, trajectory, used)
    things = obstacles(cell)
    parts = []
    for known in moves:
        profile = _MoveProfile(cell, trajectory, known, things, used)
        measure = partial(profile.rows, longest_step)
        parts.append(measure() if once is None else once(profile.key(longest_step), measure))
    rows = [part[0] for part in parts]
    guaranteed = [np.append(part[1], np.nan) for part in parts]
    margins = [np.append(part[2], np.nan) for part in parts]
    looks = [len(part.times) for part in rows]
    names = [pair for part in rows for pair in part.names]
    return ClearanceProfile(
        t=np.concatenate([part.times for part in rows]),
        guaranteed=np.concatenate(guaranteed)[:-1],
        seen=np.concatenate([part.seen.distance for part in rows]),
        piece=tuple(piece for piece, _ in names),
        body=tuple(body for _, body in names),
        on_moving=np.concatenate([part.seen.on_moving for part in rows]),
        on_standing=np.concatenate([part.seen.on_standing for part in rows]),
        move=np.repeat([np.int64(track.number) for track in trajectory.tracks], looks),
        margin=np.concatenate(margins)[:-1],
        cap=used.cap,
    )


class _Rows(NamedTuple):
    """Looks at one move: moments, the nearest pair then, and its names."""

    times: Array
    seen: NearestSeen
    names: list[tuple[str, str]]


#: Of one move: looks, guaranteed clearance between them, and the margin there.
MoveRows = tuple[_Rows, Array, Array]
Once = Callable[[bytes, Callable[[], MoveRows]], MoveRows]
#: The fastest piece travels at most so far from look to look, m; nearer in time are one, s.
_STEP_WAY, _ROUNDS, _SAME_TIME = 0.005, 3, 1e-9


class _MoveProfile:
    """One move: when to look, what counts then, and what was proved of it already."""

    def __init__(
        self,
        cell: Cell,
        trajectory: Trajectory,
        known: MoveClearance,
        things: tuple[Obstacle, ...],
        engine: Engine,
    ) -> None:
        track = known.track
        self.track, self.cap = track, engine.cap
        self._cell, self._engine = cell, engine
        self._stretches = stretches(cell, trajectory, track)
        self._pairs = pairs_to_measure(cell, track, things)
        measured = known.pairs
        #: The arm itself, and the wire by a weld, where they are too near.
        near = known.noteworthy[len(known.pairs) :]
        self._rounded = [pair for pair in (*measured, *near) if pair.stretch.corner]
        self._own = [pair for pair in near if not pair.stretch.corner]
        shape = (len(self._stretches), len(self._pairs))
        allowed = [comes_near(*pair, part) for part in self._stretches for pair in self._pairs]
        #: Rows are stretches, columns pairs: which are wire and part by a weld, and what the check
        #: guarantees.
        self._allowed = np.array(allowed, dtype=bool).reshape(shape)
        self._proved = np.zeros(shape)
        #: What comes nearer than its margin: that margin, and when.
        self._short = [
            (pair.margin, span)
            for pair in measured
            if pair.clearance.lower < pair.margin
            for span in pair.spans
        ]
        #: When one of a pair, told by its column, lies within the other.
        self._within: list[tuple[int, Span]] = []
        self._keep_known(measured)

    @cached_property
    def _looks(self) -> Sampler:
        return self._engine.looks(self.track, self._pairs)

    def key(self, longest_step: float) -> bytes:
        """Hash over everything that decides the rows, meshes by their content."""
        cell, engine, track = self._cell, self._engine, self.track
        digest = hashlib.blake2b(digest_size=20)
        world, seen = cell.world_linkage, []
        arrays = [track.t, track.q, self._allowed, self._proved, world.fixed, world.ends,
                  world.prismatic, cell.torch.T_flange_tcp]  # fmt: skip
        if cell.table is not None:
            arrays += [axis.T_world_axis for axis in cell.table.axes]
        for piece, thing in self._pairs:
            arrays.append(thing.T_ref_mesh)
            cable = None if piece.cable is None else cable_margin(cell, piece.cable)
            seen.append((
                piece.name, thing.name, piece.link, piece.mesh.digest, cable, thing.source.digest,
                thing.on_table, thing.on_tilt, thing.carrier, thing.at_joint,
                unknown_place(piece, thing),
            ))  # fmt: skip
        for array in arrays:
            digest.update(f"{array.shape}".encode() + np.ascontiguousarray(array).tobytes())
        told = [(pair.clearance.lower, pair.stretch, pair.spans)
                for pair in (*self._rounded, *self._own)]  # fmt: skip
        said = (engine.name, engine.tolerance, engine.cap, longest_step, cell.margins, seen,
                self._stretches, self._within, self._short, told, track.fault is None)  # fmt: skip
        digest.update(repr(said).encode())
        return digest.digest()

    def _keep_known(self, measured: Sequence[PairClearance]) -> None:
        row = {part.start: k for k, part in enumerate(self._stretches)}
        columns: dict[tuple[str, str], list[int]] = {}
        for k, (piece, thing) in enumerate(self._pairs):
            columns.setdefault((piece.name, thing.name), []).append(k)
        known: dict[tuple[int, int], float] = {}
        for pair in measured:
            if pair.stretch.corner:
                continue
            # Names are told apart where a cell is sound; else the least counts for both.
            for column in columns[pair.piece, pair.body]:
                place = row[pair.stretch.start], column
                known[place] = min(pair.clearance.lower, known.get(place, np.inf))
                self._within += [(column, Span(one.start, one.end)) for one in pair.within]
        for place, lower in known.items():
            self._proved[place] = lower

    def rows(self, longest_step: float) -> MoveRows:
        """Return looks, and guaranteed clearance and margin between them."""
        times = self._times(longest_step)
        (guaranteed, nearest), seen = self._guaranteed(times), self._seen(times)
        for _ in range(_ROUNDS if len(times) > 1 else 0):
            near = np.minimum(seen.distance, self.cap)
            least = np.minimum(near[:-1], near[1:])
            coarse = least - guaranteed > np.maximum(1e-3, 0.25 * least)
            coarse &= nearest >= 0  # more looks make no other bound tighter
            if not coarse.any():
                break
            inner = [np.linspace(times[k], times[k + 1], 5)[1:-1] for k in np.flatnonzero(coarse)]
            times = each_once(np.concatenate([times, *inner]))
            (guaranteed, nearest), seen = self._guaranteed(times), self._seen(times)
        parts = [self._stretches[k] for k in self._between(times)]
        margins = [self._margin(int(k), part) for k, part in zip(nearest, parts, strict=True)]
        asked = np.array(margins, dtype=np.float64)
        # Margins differ from pair to pair: the nearest may keep its own while a farther one, less
        # well placed, does not. A moment at which any is too near has to look like it.
        for margin, span in self._short:
            here = (span.start <= times[1:]) & (times[:-1] <= span.end)
            asked[here] = np.maximum(asked[here], margin)
        return _Rows(times, seen, self._names(seen)), guaranteed, asked

    def _names(self, seen: NearestSeen) -> list[tuple[str, str]]:
        return [
            ("", "") if k < 0 else (self._pairs[k][0].name, self._pairs[k][1].name)
            for k in seen.pair
        ]

    def _times(self, longest_step: float) -> Array:
        t = self.track.t
        parts = [np.array([part.start, part.end]) for part in self._stretches]
        parts += [np.array(span) for _, span in self._within]
        if t[-1] > t[0]:
            fastest = self._fastest()
            by_way = np.linspace(0, fastest[-1], int(np.ceil(fastest[-1] / _STEP_WAY)) + 1)
            parts.append(np.interp(by_way, fastest, t))
            count = int(np.ceil((t[-1] - t[0]) / longest_step))
            parts.append(np.linspace(t[0], t[-1], count + 1))
        times = each_once(np.concatenate(parts))
        times = times[np.concatenate([[True], np.diff(times) > _SAME_TIME])]
        if times[-1] < t[-1]:  # the end stays what it is, however short the move
            times = np.append(times if len(times) == 1 else times[:-1], t[-1])
        return np.asarray(times)

    def _fastest(self) -> Array:
        """Bound ``(n,)`` of the way of every point of the fastest piece since the first knot, m."""
        cell, track = self._cell, self.track
        stroke = cell.axes.stroke(track.q)
        moving = {(chain_id(*pair), pair[0]) for pair in self._pairs}
        chains = {
            name: ChainOnMove(linkage_of(cell, name), track, stroke)
            for name in {name for name, _ in moving}
        }
        ways = [np.cumsum(chains[name].segment_travel(piece)) for name, piece in moving]
        return np.concatenate([[0.0], np.max(ways, axis=0, initial=0.0)
                               if ways else np.zeros(len(track.t) - 1)])  # fmt: skip

    def _between(self, times: Array) -> list[int]:
        """Stretch in which each interval of ``times`` lies."""
        return [next(k for k, part in enumerate(self._stretches) if part.start <= at <= part.end)
                for at in (times[:-1] + times[1:]) / 2]  # fmt: skip

    def _margin(self, pair: int, stretch: Stretch) -> float:
        """Margin asked for where ``pair`` is the nearest; -1: the arm itself, or none."""
        if pair < 0:
            return stretch.margin(self._cell.margins)
        piece, thing = self._pairs[pair]
        asked = pair_margin(self._cell, self.track, piece, thing, stretch)
        return asked + unknown_place(piece, thing)

    def _here(self, times: Array) -> BoolArray:
        """Tell which stretches each moment belongs to, ``(n, stretches)``: two where they meet."""
        start = np.array([part.start for part in self._stretches])
        end = np.array([part.end for part in self._stretches])
        return np.asarray((start <= times[:, None]) & (times[:, None] <= end), dtype=bool)

    def _held(self, start: Array, end: Array) -> BoolArray:
        """Tell which pairs are one within the other from ``start`` to ``end (n,)``, ``(n, pairs)``.

        Looks stand at both ends of every such time, so that it is all of a stretch or none of it.
        """
        held = np.zeros((len(start), len(self._pairs)), dtype=bool)
        for pair, span in self._within:
            held[:, pair] |= (span.start <= start + _SAME_TIME) & (end <= span.end + _SAME_TIME)
        return held

    def _seen(self, times: Array) -> NearestSeen:
        """Nearest pair at each moment, of those that count in some stretch there."""
        asked: BoolArray = self._here(times) @ ~self._allowed
        found = self._looks.nearest(times, asked)
        # What lies inside has no distance, whatever its surfaces have.
        inside: BoolArray = self._held(times, times) & asked
        held = np.flatnonzero(inside.any(axis=1))
        if len(held):
            within = self._looks.nearest(times[held], inside[held])
            found.pair[held], found.distance[held] = np.argmax(inside[held], axis=1), 0.0
            found.on_moving[held], found.on_standing[held] = within.on_moving, within.on_standing
        return found

    def _guaranteed(self, times: Array) -> tuple[Array, NDArray[np.int64]]:
        """Lower bound over all pairs between looks, and which pair it is the bound of.

        That is -1 where it is none with what stands.
        """
        rows = self._between(times)
        asked = ~self._allowed[rows]
        held = self._held(times[:-1], times[1:]) & asked
        result, nearest = self._looks.least(times, asked & ~held, self._proved[rows])
        within = held.any(axis=1)
        if within.any():  # of no pairs at all there is no first
            result[within], nearest[within] = 0.0, np.argmax(held[within], axis=1)
        others = [(pair.clearance.lower, pair.stretch.start < times[1:],
                   times[:-1] < pair.stretch.end) for pair in self._rounded]  # fmt: skip
        # The arm against itself and the wire by a weld, where they are too near.
        others += [(pair.clearance.lower, span.start <= times[1:], times[:-1] <= span.end)
                   for pair in self._own for span in pair.spans]  # fmt: skip
        for lower, begun, not_over in others:
            less = begun & not_over & (lower < result)
            result[less], nearest[less] = lower, -1
        return result, nearest

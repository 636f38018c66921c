"""The whole program as tracks: each move starts where the arm really is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pathsim.arm import follower
from pathsim.arm.inverse import branch_of, closed_form, nearest_posture
from pathsim.errors import CannotCheck, MotionError
from pathsim.kernels.arrays import as_asked
from pathsim.kernels.plain import as_it_runs
from pathsim.model import Axes, Cell, Move, MoveKind
from pathsim.model.lever import longest_levers
from pathsim.motion.arrival import arrival_note
from pathsim.motion.cartesian import CartesianMotion
from pathsim.motion.joint_move import lay_joint_move
from pathsim.motion.kept_values import Lazy, TipWay
from pathsim.motion.knots import Knots, Solver, lay
from pathsim.motion.move_cache import MoveCache, cell_key, move_key
from pathsim.motion.move_start import MoveStart, after_standing, with_standing, without_last_bits
from pathsim.motion.notes import NoteKind, PlanNote
from pathsim.motion.override_time import joint_way, slow_cartesian, slow_joint
from pathsim.motion.paths import ToolPath
from pathsim.motion.search_move import search_track
from pathsim.motion.speed_kernel import fill_speeds
from pathsim.motion.targets import Targets
from pathsim.motion.time_scaling import SHORTEST_MOVE
from pathsim.motion.tool_motion import ToolMotions, placed
from pathsim.motion.trajectory import FaultKind, MoveFault, MoveTrack, Trajectory
from pathsim.motion.two_ways import first_two_ways
from pathsim.transforms import Array, BoolArray


def plan_program(cell: Cell, laid: MoveCache | None = None) -> Trajectory:
    """Lay knots for every move of the cell's program; moves that ``laid`` knows are taken from it.

    A move that cannot be laid to its end carries a fault; the next one starts at the point
    where it should have ended, if that can be told, and says that it is not continuous.
    Raises CannotCheck when the start cannot be reached at all.
    """
    return _Planner(cell, MoveCache() if laid is None else laid).run()


class _Planner:
    """Walks through the program and keeps where the arm is."""

    def __init__(self, cell: Cell, laid: MoveCache) -> None:
        self.cell, self._laid = cell, laid
        self.levers = longest_levers(cell)
        self.targets = Targets(cell)
        self.notes: list[PlanNote] = []
        self._is_lost = False  # whether nobody can say where the arm stands now
        self._is_unsure = False  # whether it may stand in another posture than the one laid
        self._motions = ToolMotions(cell, self.targets)
        self._closed = closed_form(cell.arm)
        self._is_search = self._closed is None
        turning = ~cell.axes.prismatic
        turning[list(cell.axes.held)] = False  # these are given, not solved for
        #: A closed form stays on its branch whatever is near; only whole turns are carried.
        self._turning = None if self._is_search else turning
        self._key = cell_key(cell, self.levers)

    def run(self) -> Trajectory:
        """Return the trajectory."""
        program = self.cell.program
        q = self._joints(program.start, self.cell.axes.middle, None)
        if q is None:
            raise CannotCheck(
                f"the start point '{program.start}' is out of the arm's reach or limits"
                f"{self._asked_of(program.start)}{self._held_past_limits(program.start)}, so "
                "nothing behind it can be checked"
            )
        clock, where, continuous = 0.0, program.start, True
        tracks: list[MoveTrack] = []
        for index, move in enumerate(program.moves):
            track = self._track(index, move, where, q, clock, continuous)
            tracks.append(self._as_sure_as_it_is(move, track))
            clock = float(track.t[-1])
            q, continuous = self._arrival(index, move, track)
            where = move.target
        self.notes.extend(self.targets.disagreements(program))
        return Trajectory(tuple(tracks), tuple(self.notes))

    def _as_sure_as_it_is(self, move: Move, track: MoveTrack) -> MoveTrack:
        """Say from when on nobody knows in which posture the arm is; keep that for what follows.

        It is known again once a joint move has brought it to taught joint values.
        """
        fork, unsure = track.fork.value, self._is_unsure
        if move.kind is MoveKind.JOINT and self.cell.points[move.target].q is not None:
            self._is_unsure = False
        elif fork is not None:
            self._is_unsure = True
        start = float(track.t[0])
        if unsure:
            return track.sure_for(start)
        return track if fork is None else track.sure_for(start + fork.after)

    def _asked_of(self, point: str) -> str:
        """Say that more than a place is asked of a point; empty when it is not."""
        known = self.cell.points[point]
        return ", or not reached in the posture asked for" if known.asks_for_posture else ""

    def _held_past_limits(self, point: str) -> str:
        """Name held axes that are taught past their limits; empty when none is."""
        axes, held = self.cell.axes, self.targets.held(point, self.cell.axes.middle)
        past = [
            axes.names[column]
            for column, value in zip(axes.held, held, strict=True)
            if not axes.lower[column] <= value <= axes.upper[column]
        ]
        return f" ({' and '.join(past)} past its limit)" if past else ""

    def _joints(self, point: str, near: Array, move: int | None) -> Array | None:
        """Taught joints of a point, or the solution nearest ``near``, which is noted."""
        known = self.cell.points[point]
        if known.q is not None:
            return known.q
        found = self.targets.pick(point, near)
        if found is None:
            return None
        if found.is_open or found.is_search:
            picked = replace(found, from_middle=move is None)
            self.notes.append(PlanNote(NoteKind.POSTURE_PICKED, point, move, pick=picked))
        return np.array(found.q)

    def _track(
        self, index: int, move: Move, where: str, q: Array, clock: float, continuous: bool
    ) -> MoveTrack:
        """Return the track of a move, laid now or before.

        Pieces of a seam that goes on without a stop depend on each other, and notes on a
        move's number: such moves are laid anew each time.
        """
        moves = self.cell.program.moves
        joined = move.joined or (index + 1 < len(moves) and moves[index + 1].joined)
        key = move_key(self.cell, self._key, move, where, q, self._is_lost, continuous)

        def lay_now() -> tuple[MoveTrack, bool]:
            notes = len(self.notes)
            track = self._lay(index, move, where, q, continuous)
            return track, len(self.notes) == notes and not joined

        if joined:
            return lay_now()[0].at(clock, index, move)
        return self._laid.track(key, index, move, clock, lay_now)

    def _lay(self, index: int, move: Move, where: str, q: Array, continuous: bool) -> MoveTrack:
        """Lay a move from time 0."""
        begin = MoveStart(index, move, where, q, continuous)
        if self._is_lost:
            return begin.standing(MoveFault(FaultKind.NO_START, 0.0))
        if move.search is not None:
            try:
                return search_track(cell=self.cell, targets=self.targets, begin=begin,
                                    search=move.search, lay=self._cartesian_track)  # fmt: skip
            except MotionError as error:
                raise placed(index, move, error) from error
        if move.kind is not MoveKind.JOINT:
            return self._cartesian_track(begin)
        q_end = self._joints(move.target, q, index)
        if q_end is None:
            asks = self.cell.points[move.target].asks_for_posture
            kind = FaultKind.POSTURE if asks else FaultKind.REACH
            return begin.standing(MoveFault(kind, 0.0, is_search=self._is_search))
        return self._joint_track(begin, q_end)

    def _joint_track(self, begin: MoveStart, q_end: Array) -> MoveTrack:
        cell, q, move = self.cell, begin.q, begin.move
        try:
            t, qs = lay_joint_move(cell.axes, q, q_end, move.speed, self.levers)
        except MotionError as error:
            raise placed(begin.which, move, error) from error
        way, slow = joint_way(cell, t, qs), slow_joint(cell, move, q, q_end)
        speed_ratio, _ = _speeds(t, qs, cell.axes)
        t, qs, speed_ratio = with_standing(t, qs, speed_ratio, move.wait)
        return begin.track(t, qs, speed_ratio, float(t[-1]), None, way, slow)

    def _cartesian_track(self, begin: MoveStart, along: ToolPath | None = None) -> MoveTrack:
        """Lay a straight move, an arc or a seam; ``along`` another path than its points make."""
        cell, q, move = self.cell, begin.q, begin.move
        motion = self._motions.of(begin.which, move, q, along)
        if motion.travel_time <= 0:
            return begin.standing(
                None, move.preflow, move.start_time, move.arc_behind, move.postflow,
                move.wait,
            )  # fmt: skip
        try:
            q_end = cell.points[move.target].q if along is None else None
            laid = self._laid_knots(motion, q, q_end)
        except MotionError as error:
            raise placed(begin.which, move, error) from error
        # Where a joint would have to be faster than it can, the arm slows the whole move down.
        speed_ratio, t = _speeds(laid.t, laid.q, cell.axes)
        if 0 < t[-1] < SHORTEST_MOVE:  # a seam of a few nanometres
            t *= SHORTEST_MOVE / t[-1]
        qs = without_last_bits(laid.q, cell.axes)
        slow = slow_cartesian(cell, move, motion, laid.t, speed_ratio)
        fault = None
        if laid.fault is not None:
            share = float(laid.t[-1] / motion.travel_time)
            name = "" if laid.joint is None else cell.axes.names[laid.joint]
            fault = MoveFault(laid.fault, share, name, self._is_search)
        else:
            for seconds in (move.start_time, move.preflow):  # the last put in comes first
                t, qs, speed_ratio = after_standing(t, qs, speed_ratio, seconds)
            for seconds in (move.arc_behind, move.postflow, move.wait):
                t, qs, speed_ratio = with_standing(t, qs, speed_ratio, seconds)
        planned = motion.travel_time + move.standing
        way = Lazy(lambda: TipWay(motion.path.length))
        arm, X = cell.arm, cell.torch.T_flange_tcp
        fork = Lazy(lambda: first_two_ways(arm, X, t, qs[:, : arm.dof], fault is not None))
        return begin.track(t, qs, speed_ratio, planned, fault, way, slow, fork)

    def _laid_knots(self, motion: CartesianMotion, q: Array, q_end: Array | None) -> Knots:
        """Knots of a motion on the branch of ``q``; in batches where no closed form does."""
        from pathsim.motion.fast_knots import lay_fast
        from pathsim.motion.ideal import poses_at

        cell, dof = self.cell, self.cell.arm.dof
        if self._closed is not None and q_end is None:
            # Where two postures meet at the start, the one that sets out without a leap.
            soon = poses_at(motion, motion.coarse[1:2])
            held = float(soon.held[0, 0]) if self._closed.first else 0.0
            q_end = nearest_posture(self._closed, soon.flange, held, q[:dof])
        if self._closed is not None:
            end = None if q_end is None else q_end[:dof]
            T = self.targets.reached(q) @ cell.torch.T_tcp_flange
            branch = branch_of(self._closed, q[:dof], end, T)
            laid = lay_fast(motion, cell.axes, self._closed, branch, q, self.levers)
            if laid is not None:
                return laid
        solve = self._solver(motion, q, q_end)
        return lay(solve, q, motion.breaks, motion.coarse, self.levers, self._turning)

    def _solver(self, motion: CartesianMotion, q: Array, q_end: Array | None) -> Solver:
        """Joint values of a motion over time, on the branch of ``q``."""
        from pathsim.motion.ideal import poses_at

        arm, held = self.cell.arm, list(self.cell.axes.held)
        end = None if q_end is None else q_end[: arm.dof]
        follow = follower(arm, q[: arm.dof], end, self.cell.torch.T_flange_tcp)

        def solve(t: Array, near: Array) -> tuple[Array, BoolArray]:
            full = near.copy()
            full[:, held], T, _ = poses_at(motion, t)
            full[:, : arm.dof], solved = follow(T, full[:, : arm.dof])
            return full, solved

        return solve

    def _arrival(self, index: int, move: Move, track: MoveTrack) -> tuple[Array, bool]:
        """Where the arm is after a move, and whether it got there."""
        q = track.q[-1]
        if track.fault is not None:
            there = self._joints(move.target, q, index)
            self._is_lost = there is None
            return (q if there is None else there), False
        self._is_lost = False
        moves = self.cell.program.moves
        goes_on = index + 1 < len(moves) and moves[index + 1].joined
        if move.kind is not MoveKind.JOINT and not goes_on:
            note = arrival_note(self.cell, index, move.target, q)
            if note is not None:
                self.notes.append(note)
        return q, True


def _speeds(t: Array, q: Array, axes: Axes) -> tuple[Array, Array]:
    """Joint speeds ``(n - 1, axes)`` between knots, as shares of what the joints can.

    And times of the knots ``(n,)`` from 0 at which no joint has to be faster than it can.
    """
    ratio, slowed = np.empty((len(t) - 1, q.shape[1])), np.empty(len(t))
    as_it_runs(fill_speeds)(t, as_asked(q, float), np.array(axes.speed), ratio, slowed)
    return ratio, slowed

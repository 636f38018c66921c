"""The whole program as tracks: each move starts where the arm really is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pathsim.arm import follower
from pathsim.arm.inverse import closed_form
from pathsim.arm.postures import has_words, words
from pathsim.errors import CannotCheck, MotionError
from pathsim.model import Cell, Move, MoveKind
from pathsim.model.lever import longest_levers
from pathsim.motion.cartesian import CartesianMotion, cartesian_motion
from pathsim.motion.joint_move import detour, lay_joint_move
from pathsim.motion.laying import Solver, lay
from pathsim.motion.paths import ArcPath, LinePath, ToolPath
from pathsim.motion.targets import Targets
from pathsim.motion.trajectory import FaultKind, MoveFault, MoveTrack, PlanNote, Trajectory
from pathsim.transforms import Array, Flags

#: A straight move or arc shorter than this is none, s.
_NO_TIME = 1e-5
#: A straight move that ends more than this from the taught joint values is worth a word, rad.
_OTHERWISE = np.radians(0.5)


def plan_program(cell: Cell) -> Trajectory:
    """Lay knots for every move of the cell's program.

    A move that cannot be laid to its end carries a fault; the next one starts at the point
    where it should have ended, if that can be told, and says that it is not continuous.
    Raises CannotCheck when the start cannot be reached at all.
    """
    return _Planner(cell).run()


class _Planner:
    """Walks through the program and keeps where the arm is."""

    def __init__(self, cell: Cell) -> None:
        self.cell = cell
        self.levers = longest_levers(cell)
        self.targets = Targets(cell)
        self.notes: list[PlanNote] = []
        self._is_lost = False  # whether nobody can say where the arm stands now
        self._is_search = closed_form(cell.arm) is None

    def run(self) -> Trajectory:
        """Return the trajectory."""
        program = self.cell.program
        q = self._joints(program.start, self.cell.axes.middle, None)
        if q is None:
            raise CannotCheck(
                f"the start point '{program.start}' is out of the arm's reach or limits, "
                "so nothing behind it can be checked"
            )
        clock, where, continuous = 0.0, program.start, True
        tracks: list[MoveTrack] = []
        for index, move in enumerate(program.moves):
            track = self._track(index, move, where, q, clock, continuous)
            tracks.append(track)
            clock = float(track.t[-1])
            q, continuous = self._arrival(index, move, track)
            where = move.target
        self.notes.extend(self.targets.disagreements(program))
        return Trajectory(tuple(tracks), tuple(self.notes))

    def _joints(self, point: str, near: Array, move: int | None) -> Array | None:
        """Taught joints of a point, or the solution nearest ``near``, which is noted."""
        known = self.cell.points[point]
        if known.q is not None:
            return known.q
        q = self.targets.nearest(point, near)
        if q is not None and len(known.branch) < 3:
            said = self._words(q)
            self.notes.append(PlanNote("posture picked", point, move, words=said))
        return q

    def _words(self, q: Array) -> tuple[str, ...]:
        arm = self.cell.arm
        return words(arm, q[: arm.dof]) if has_words(arm) else ()

    def _track(
        self, index: int, move: Move, where: str, q: Array, clock: float, continuous: bool
    ) -> MoveTrack:
        kind = FaultKind.BRANCH if self.cell.points[move.target].branch else FaultKind.REACH
        blank = MoveTrack(
            index, move, where, np.array([clock]), q[None], np.zeros((0, len(q))), 0.0, 0.0,
            MoveFault(kind, 0.0, is_search=self._is_search), continuous,
        )  # fmt: skip
        if self._is_lost:
            return replace(blank, fault=MoveFault(FaultKind.NO_START, 0.0))
        if move.kind is MoveKind.JOINT:
            q_end = self._joints(move.target, q, index)
            if q_end is None:
                return blank
            return self._joint_track(blank, q_end)
        return self._cartesian_track(blank)

    def _joint_track(self, blank: MoveTrack, q_end: Array) -> MoveTrack:
        cell, q, move = self.cell, blank.q[0], blank.move
        t, qs = lay_joint_move(cell.axes, q, q_end, move.speed, self.levers)
        tips = cell.tool_poses(qs)[:, :3, 3]
        gap, when = detour(tips, t)
        dt = np.diff(t)[:, None]
        strain = np.abs(np.diff(qs, axis=0)) / dt / cell.axes.speed
        length = float(np.linalg.norm(np.diff(tips, axis=0), axis=-1).sum())
        start = blank.t[0]
        return replace(
            blank, t=start + t, q=qs, strain=strain, tip_length=length, fault=None,
            planned_duration=float(t[-1]), detour=gap, detour_time=float(start + when),
        )  # fmt: skip

    def _cartesian_track(self, blank: MoveTrack) -> MoveTrack:
        cell, q, move = self.cell, blank.q[0], blank.move
        motion = self._motion(blank.index, move, q)
        if motion.travel_time < _NO_TIME:
            return replace(blank, fault=None)
        solve = self._solver(motion, q, cell.points[move.target].q)
        laid = lay(solve, q, motion.breaks, motion.coarse, self.levers)
        dt = np.diff(laid.t)[:, None]
        strain = np.abs(np.diff(laid.q, axis=0)) / dt / cell.axes.speed
        # Where a joint would have to be faster than it can, the arm slows the whole move down.
        slowed = dt[:, 0] * np.maximum(1.0, strain.max(axis=1, initial=0.0))
        t = np.concatenate([[0.0], np.cumsum(slowed)])
        qs = laid.q
        fault = None
        if laid.fault is not None:
            share = float(laid.t[-1] / motion.travel_time)
            name = "" if laid.joint is None else cell.axes.names[laid.joint]
            fault = MoveFault(laid.fault, share, name, self._is_search)
        elif move.crater > _NO_TIME:
            t, qs = np.append(t, t[-1] + move.crater), np.vstack([qs, qs[-1]])
            strain = np.vstack([strain, np.zeros(len(q))])
        return replace(
            blank, t=blank.t[0] + t, q=qs, strain=strain, tip_length=motion.path.length,
            fault=fault, planned_duration=motion.travel_time + move.crater,
        )  # fmt: skip

    def _solver(self, motion: CartesianMotion, q: Array, q_end: Array | None) -> Solver:
        """Joint values of a motion over time, on the branch of ``q``."""
        arm, held = self.cell.arm, list(self.cell.axes.held)
        end = None if q_end is None else q_end[: arm.dof]
        follow = follower(arm, q[: arm.dof], end, self.cell.torch.T_flange_tcp)

        def solve(t: Array, near: Array) -> tuple[Array, Flags]:
            full = near.copy()
            full[:, held] = motion.held(t)
            full[:, : arm.dof], solved = follow(motion.flange(t), full[:, : arm.dof])
            return full, solved

        return solve

    def _motion(self, index: int, move: Move, q: Array) -> CartesianMotion:
        cell, targets = self.cell, self.targets
        held = q[list(cell.axes.held)]
        start = targets.seen_from_part(targets.reached(q), held)
        end = targets.on_part(move.target, q)
        try:
            path: ToolPath = LinePath(start, end)
            if move.via is not None:
                path = ArcPath(start, targets.on_part(move.via, q), end)
            return cartesian_motion(cell, move, path, held, targets.held(move.target, q))
        except MotionError as error:
            line = "" if move.line is None else f" (line {move.line} of the cell file)"
            raise MotionError(f"move {index + 1}, to '{move.target}'{line}: {error}") from error

    def _arrival(self, index: int, move: Move, track: MoveTrack) -> tuple[Array, bool]:
        """Where the arm is after a move, and whether it got there."""
        point = self.cell.points[move.target]
        q = track.q[-1]
        if track.fault is not None:
            there = point.q if point.q is not None else self.targets.nearest(move.target, q)
            self._is_lost = there is None
            return (q if there is None else there), False
        self._is_lost = False
        if move.kind is not MoveKind.JOINT:
            self._compare(index, move.target, q)
        return q, True

    def _compare(self, index: int, target: str, q: Array) -> None:
        """Note when a straight move or arc arrives in another posture than the taught one."""
        point, taken = self.cell.points[target], self._words(q)
        if point.q is None:
            wrong = [word for word in point.branch if word not in taken]
            if wrong:
                words_ = (*point.branch, "/", *taken)
                self.notes.append(PlanNote("arrives otherwise", target, index, words=words_))
            return
        gap = np.abs(q - point.q)
        worst = int(np.argmax(gap))
        if gap[worst] > _OTHERWISE:
            taught = self._words(point.q)
            both = () if taught == taken else (*taught, "/", *taken)
            self.notes.append(
                PlanNote(
                    "arrives otherwise", target, index, turn=float(q[worst] - point.q[worst]),
                    joint=self.cell.axes.names[worst], words=both,
                )
            )  # fmt: skip

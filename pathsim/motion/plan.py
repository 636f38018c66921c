"""The whole program as tracks: each move starts where the arm really is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pathsim.arm import follower
from pathsim.errors import CannotCheck, MotionError
from pathsim.model import Cell, Move, MoveKind
from pathsim.model.lever import longest_levers
from pathsim.motion.cartesian import CartesianMotion, cartesian_motion
from pathsim.motion.joint_move import detour, lay_joint_move
from pathsim.motion.laying import lay
from pathsim.motion.paths import ArcPath, LinePath, ToolPath
from pathsim.motion.targets import Targets
from pathsim.motion.trajectory import FaultKind, MoveFault, MoveTrack, PlanNote, Trajectory
from pathsim.transforms import Array, inverse

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

    def run(self) -> Trajectory:
        """Return the trajectory."""
        program = self.cell.program
        q = self._joints(program.start, self.targets.middle, None)
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
        taught = self.cell.points[point].q
        if taught is not None:
            return taught
        q = self.targets.nearest(point, near)
        if q is not None:
            self.notes.append(PlanNote("posture picked", point, move))
        return q

    def _track(
        self, index: int, move: Move, where: str, q: Array, clock: float, continuous: bool
    ) -> MoveTrack:
        blank = MoveTrack(
            index, move, where, np.array([clock]), q[None], np.zeros((0, len(q))), 0.0, 0.0,
            MoveFault(FaultKind.REACH, 0.0), continuous,
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
        t, qs = lay_joint_move(cell.arm, q, q_end, move.speed, self.levers)
        gap, when = detour(cell.arm, cell.torch.T_flange_tcp, t, qs)
        dt = np.diff(t)[:, None]
        strain = np.abs(np.diff(qs, axis=0)) / dt / cell.arm.speed
        tips = (cell.arm.pose(qs) @ cell.torch.T_flange_tcp)[:, :3, 3]
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
        solve = follower(cell.arm, q, cell.points[move.target].q)
        laid = lay(motion.flange, solve, q, motion.breaks, motion.coarse, self.levers)
        dt = np.diff(laid.t)[:, None]
        strain = np.abs(np.diff(laid.q, axis=0)) / dt / cell.arm.speed
        # Where a joint would have to be faster than it can, the arm slows the whole move down.
        slowed = dt[:, 0] * np.maximum(1.0, strain.max(axis=1, initial=0.0))
        t = np.concatenate([[0.0], np.cumsum(slowed)])
        qs = laid.q
        fault = None
        if laid.fault is not None:
            share = float(laid.t[-1] / motion.travel_time)
            fault = MoveFault(laid.fault, share, laid.joint)
        elif move.crater > _NO_TIME:
            t, qs = np.append(t, t[-1] + move.crater), np.vstack([qs, qs[-1]])
            strain = np.vstack([strain, np.zeros(len(q))])
        return replace(
            blank, t=blank.t[0] + t, q=qs, strain=strain, tip_length=motion.path.length,
            fault=fault, planned_duration=motion.travel_time + move.crater,
        )  # fmt: skip

    def _motion(self, index: int, move: Move, q: Array) -> CartesianMotion:
        cell = self.cell
        T_flange_tcp = cell.torch.T_flange_tcp
        start = cell.arm.pose(q) @ T_flange_tcp
        end = self.targets.tool_pose(move.target)
        try:
            path: ToolPath = LinePath(start, end)
            if move.via is not None:
                path = ArcPath(start, self.targets.tool_pose(move.via), end)
            return cartesian_motion(
                move, path, inverse(T_flange_tcp), cell.tip_speed, cell.tip_acceleration
            )
        except MotionError as error:
            line = "" if move.line is None else f" (line {move.line} of the cell file)"
            raise MotionError(f"move {index + 1}, to '{move.target}'{line}: {error}") from error

    def _arrival(self, index: int, move: Move, track: MoveTrack) -> tuple[Array, bool]:
        """Where the arm is after a move, and whether it got there."""
        taught = self.cell.points[move.target].q
        q = track.q[-1]
        if track.fault is not None:
            there = taught if taught is not None else self.targets.nearest(move.target, q)
            self._is_lost = there is None
            return (q if there is None else there), False
        self._is_lost = False
        if move.kind is not MoveKind.JOINT and taught is not None:
            gap = np.abs(q - taught)
            worst = int(np.argmax(gap))
            if gap[worst] > _OTHERWISE:
                self.notes.append(
                    PlanNote(
                        "arrives otherwise", move.target, index,
                        turn=float(q[worst] - taught[worst]), joint=worst + 1,
                    )
                )  # fmt: skip
        return q, True

"""The ideal motion of a straight move, arc or seam: its path, held axes and place in its seam."""

from __future__ import annotations

from pathsim.errors import MotionError
from pathsim.model import Cell, Move
from pathsim.model.held_way import HeldWay
from pathsim.motion.cartesian import CartesianMotion, cartesian_motion
from pathsim.motion.path_timing import NO_WAY
from pathsim.motion.paths import ArcPath, LinePath, ToolPath
from pathsim.motion.seam_place import SeamPlace, seam_places
from pathsim.motion.targets import Targets
from pathsim.transforms import Array


class ToolMotions:
    """Motions of one program's moves in their order; pieces of a seam know their place in it."""

    def __init__(self, cell: Cell, targets: Targets) -> None:
        self._cell, self._targets = cell, targets
        self._places: dict[int, SeamPlace] = {}

    def of(
        self, index: int, move: Move, q: Array, along: ToolPath | None = None
    ) -> CartesianMotion:
        """Return the motion of a move from axes ``q``; ``along`` another path than its points make.

        Raises MotionError, which says which move it is about.
        """
        cell, targets = self._cell, self._targets
        held = q[list(cell.axes.held)]
        start = targets.seen_from_part(targets.reached(q), held)
        if move.joined:  # the arm is off the seam's centre here when the weave is
            start = targets.on_part(cell.program.moves[index - 1].target, q)
        try:
            path = self._path(move, start, q) if along is None else along
            place = self._places.get(index)
            if place is None and move.arc_on:
                self._places |= self._whole_seam(index, path, q)
                place = self._places[index]
            end = targets.held(move.target, q)
            way = self._held_way(move, path, held, end, q)
            return cartesian_motion(cell, move, path, way, place)
        except MotionError as error:
            raise placed(index, move, error) from error

    def _held_way(self, move: Move, path: ToolPath, start: Array, end: Array, q: Array) -> HeldWay:
        """How the held axes go: evenly, on an arc by what was taught half way, or in a position."""
        table = self._cell.table
        if move.position is not None and table is not None and path.length > NO_WAY:
            # What it takes from the kernels' module brings the compiler along.
            from pathsim.motion.kept_position import kept_position

            return kept_position(path, table, move.position, start, end)
        if isinstance(path, ArcPath) and move.via is not None:
            via = self._targets.held(move.via, q)
            return HeldWay.taught(start, end, path.share_via, via)
        return HeldWay.evenly(start, end)

    def _path(self, move: Move, start: Array, q: Array) -> ToolPath:
        end = self._targets.on_part(move.target, q)
        if move.via is None:
            return LinePath(start, end)
        return ArcPath(start, self._targets.on_part(move.via, q), end)

    def _whole_seam(self, index: int, first: ToolPath, q: Array) -> dict[int, SeamPlace]:
        """Places of a seam's pieces, from the move at ``index`` to the last joined one."""
        moves = self._cell.program.moves
        paths: list[ToolPath] = [first]
        last = index
        while last + 1 < len(moves) and moves[last + 1].joined:
            last += 1
            start = self._targets.on_part(moves[last - 1].target, q)
            paths.append(self._path(moves[last], start, q))
        if len(paths) == 1 and first.length <= NO_WAY and moves[index].arc_behind > 0:
            return {index: SeamPlace(None, 0.0, 0.0)}  # a spot: its crater time at one place
        places = seam_places(paths, moves[index].speed, moves[index].weave)
        return {index + k: place for k, place in enumerate(places)}


def placed(index: int, move: Move, error: MotionError) -> MotionError:
    """Return an error that says which move it is about."""
    line = "" if move.line is None else f" (line {move.line} of the cell file)"
    return MotionError(f"move {index + 1}, to '{move.target}'{line}: {error}")

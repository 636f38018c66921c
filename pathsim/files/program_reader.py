"""The program's lines to moves, held against the points and weaves that exist."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from pathsim.errors import UnitError
from pathsim.files.cell_schema import CellFile
from pathsim.files.faults import FaultList, did_you_mean
from pathsim.files.passes import as_multipass
from pathsim.files.program_lines import as_pause, as_run, as_stitch, is_run, waiting
from pathsim.files.program_schema import POINTLESS, StepEntry
from pathsim.files.schedules import handed_on, with_schedule
from pathsim.files.wanted_contacts import search_of
from pathsim.files.weaves import weave_of
from pathsim.files.yaml_source import YamlSource
from pathsim.model import Move, MoveKind, Program
from pathsim.model.move import OFF_PART, WIRE_END, fastest, tack
from pathsim.model.program import why_not_rounded
from pathsim.model.run import Run
from pathsim.model.wanted_contact import FASTEST_SEARCH
from pathsim.units import parse, quantity, units_of

#: Kinds of lines with the arc on all along, or in parts.
_WELDS = ("seam", "stitch", "multipass")


def read_program(
    file: CellFile, source: YamlSource, points: Iterable[str] | None, faults: FaultList
) -> Program | None:
    """Return the program; None after noting every step that cannot be used.

    ``points``: the names that exist, None when the points file could not be read.
    """
    before = len(faults)
    known = None if points is None else list(points)
    reading = _Reading(file, source, known, faults)
    for name in file.subprograms:
        reading.subprogram(name)
    moves = reading.lines(file.program, ("program",), file.program[0].target)
    if len(faults) > before:
        return None
    return Program(file.program[0].target, tuple(moves))


class _Reading:
    """Reads lists of lines: the program, and before it the subprograms that it runs."""

    def __init__(
        self, file: CellFile, source: YamlSource, known: list[str] | None, faults: FaultList
    ) -> None:
        self._file, self._source, self._known, self._faults = file, source, known, faults
        self._subprograms: dict[str, tuple[Move, ...]] = {}

    def subprogram(self, name: str) -> None:
        """Read a subprogram; it has no start and runs no other."""
        steps, where = self._file.subprograms[name], ("subprograms", name)
        line = self._source.line(where)
        for kind in ("start", "run"):
            if any(step.kind == kind for step in steps):
                rule = "moves, waits and inching in a subprogram"
                self._faults.add(self._source.shown, line, name, f"came '{kind}'", rule)
                return
        moves = self.lines(steps, where, None)
        if not moves or moves[0].joined:
            came = "its first line is no move of its own"
            self._faults.add(self._source.shown, line, name, came, "a move as the first line")
            return
        self._subprograms[name] = tuple(moves)

    def lines(
        self, steps: Sequence[StepEntry], where: tuple[str, ...], start: str | None
    ) -> list[Move]:
        """Return moves; ``start`` is where the torch stands before, None where nobody knows."""
        source, faults, moves = self._source, self._faults, list[Move]()
        for index, step in enumerate(steps):
            line, key = source.line((*where, index)), f"{where[-1]}[{index + 1}]"
            if start is not None and (step.kind == "start") != (index == 0):
                came = f"came '{step.kind}: {step.target}'"
                rule = (
                    "'start: POINT' as the first line" if index == 0 else "start only as first line"
                )
                faults.add(source.shown, line, key, came, rule)
            self._points(step, (line, key))
            if step.position is not None and self._file.turning_table is None:
                came = f"came 'position: {step.position}' in a cell without a turning table"
                rule = "it where a table can keep the position"
                faults.add(source.shown, line, key, came, rule)
            at = moves[-1].target if moves else start
            is_told = at is not None and not (moves and is_run(moves[-1]))
            if step.kind == "tack" and is_told and step.target != at:
                came = f"the torch does not stand at '{step.target}' then"
                rule = "a tack at the point that the line before goes to"
                cure = f"'linear: {step.target}' before it?"
                faults.add(source.shown, line, key, came, rule, cure)
            self._line(step, moves, (line, key))
        _require_room_to_round(moves, source, faults)
        return moves

    def _points(self, step: StepEntry, at: tuple[int | None, str]) -> None:
        """Note points that nobody taught."""
        for point in () if step.kind in POINTLESS else (step.target, step.via):
            if point is not None and self._known is not None and point not in self._known:
                cure = did_you_mean(point, self._known)
                came = f"no row defines the point '{point}'"
                rule = "a point of the points file"
                self._faults.add(self._source.shown, *at, came, rule, cure)

    def _line(self, step: StepEntry, moves: list[Move], at: tuple[int | None, str]) -> None:
        """Add what a line says to the moves before it."""
        file, source, faults = self._file, self._source, self._faults
        if step.kind in ("wait", "wait_for", "inch"):
            _stand(step, moves, source, at, faults)
        elif step.kind == "run":
            move = as_run(step, self._subprograms, file, source, at, faults)
            moves += [] if move is None else [move]
        elif step.kind != "start":
            move = _move(step, file, source, at, faults, moves[-1] if moves else None)
            if move is not None and move.joined:
                moves[-1], move = handed_on(moves[-1], move)
            moves += [] if move is None else [move]


def _move(
    step: StepEntry,
    file: CellFile,
    source: YamlSource,
    at: tuple[int | None, str],
    faults: FaultList,
    before: Move | None,
) -> Move | None:
    line, key = at
    if step.joined:
        return _joined(step, source, at, faults, before)
    if step.kind == "tack":
        spot = _near_part(step, tack(step.target, step.time or 0.0, line=line))
        return with_schedule(step, spot, file.schedules, source, at, faults)
    is_joint = step.kind == "joint"
    kind = "share" if is_joint else "speed"
    try:
        (speed,) = parse(step.speed, kind)
    except UnitError as error:
        rule = f"a number and a unit ({units_of(kind)})"
        faults.add(source.shown, line, f"{key}.speed", str(error), rule)
        return None
    most = fastest(MoveKind.JOINT if is_joint else MoveKind.LINEAR, step.kind in _WELDS)
    most = FASTEST_SEARCH if step.kind == "search" else most
    if not 0 < speed <= most:
        rule = f"more than 0 and at most {quantity(most, kind)}"
        cure = "Is the unit right?" if speed > most else ""
        faults.add(source.shown, line, f"{key}.speed", f"came '{step.speed}'", rule, cure)
        return None
    weave = None
    if step.weave is not None:
        weave = weave_of(step.weave, file, source, at, faults)
        if weave is None:
            return None
    is_arc = step.kind == "arc" or (step.kind in _WELDS and step.via is not None)
    shape = MoveKind.JOINT if is_joint else MoveKind.ARC if is_arc else MoveKind.LINEAR
    move = Move(
        shape,
        step.target,
        speed,
        step.via,
        step.kind in _WELDS,
        weave,
        step.crater or 0.0,
        line,
        rounding=step.rounding or 0.0,
        position=step.position,
    )
    seam = with_schedule(step, _near_part(step, move), file.schedules, source, at, faults)
    if seam is None or step.kind == "seam":
        return seam
    if step.kind == "multipass":
        return as_multipass(step, seam, file, source, at, faults)
    return as_stitch(step, seam) if step.kind == "stitch" else seam


def _near_part(step: StepEntry, move: Move) -> Move:
    """Return a move with what its line says of where the wire's end may be."""
    return replace(
        move,
        off_part=OFF_PART if step.off_part is None else step.off_part,
        wire_end=WIRE_END if step.wire_end is None else step.wire_end,
        surfacing=step.surfacing,
        search=search_of(step),
        station=step.station,
    )


def _joined(
    step: StepEntry,
    source: YamlSource,
    at: tuple[int | None, str],
    faults: FaultList,
    before: Move | None,
) -> Move | None:
    """Return a seam that goes on from the one before, with its speed and weave."""
    line, key = at
    is_seam = before is not None and before.label == "seam" and before.written is None
    if before is None or not is_seam or before.crater or before.wait or before.pauses:
        came = "a joined seam without a seam right before it, or one with a crater or wait time"
        faults.add(source.shown, line, key, came, "'joined' only where the arc goes on burning")
        return None
    if step.crater and before.schedule is not None and before.schedule.crater:
        came = f"came 'crater: {step.crater:g} s' on a line whose schedule has one"
        faults.add(source.shown, line, f"{key}.crater", came, "the crater time in one place")
        return None
    shape = MoveKind.LINEAR if step.via is None else MoveKind.ARC
    return replace(
        before, kind=shape, target=step.target, via=step.via, crater=step.crater or 0.0,
        line=line, joined=True,
        off_part=before.off_part if step.off_part is None else step.off_part,
        wire_end=before.wire_end if step.wire_end is None else step.wire_end,
        surfacing=before.surfacing or step.surfacing,
        position=step.position,
    )  # fmt: skip


def _stand(
    step: StepEntry,
    moves: list[Move],
    source: YamlSource,
    at: tuple[int | None, str],
    faults: FaultList,
) -> None:
    """Add a wait, a signal that is waited for, or wire that is inched, to the move before it."""
    line, key = at
    if not moves:
        came = f"came '{step.kind.replace('_', ' ')}' before any move"
        faults.add(source.shown, line, key, came, "it after a move")
        return
    if step.kind == "wait":
        moves[-1] = waiting(moves[-1], step.wait or 0.0)
        return
    pause = as_pause(step, source, at, faults)
    if pause is not None:
        moves[-1] = waiting(moves[-1], pause.seconds, (pause,))


def _require_room_to_round(moves: list[Move], source: YamlSource, faults: FaultList) -> None:
    """Refuse rounding where the arm has to stop: at work, at a wait, at the end."""
    for index, move in enumerate(moves):
        following = _first_of(moves[index + 1]) if index + 1 < len(moves) else None
        why = why_not_rounded(move, following)
        if why:
            came = f"'{move.target}' is to be rounded, but {why}"
            faults.add(source.shown, move.line, "program", came, "rounding in the air only")


def _first_of(move: Move) -> Move:
    """Return the move that the arm comes to where a line begins: the first one of a run."""
    said = None if move.written is None else move.written.said
    return said.lines[0] if isinstance(said, Run) else move

"""Points taught otherwise where no air point helps: torch angle, posture, home.

Each search yields None for what was tried and is not clear.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from pathsim.advice.cell_proposal import CellChange, CellChangeKind
from pathsim.advice.cell_trial import moves_are_clear
from pathsim.advice.trial import Evaluator
from pathsim.arm.postures import has_postures, posture_of
from pathsim.findings.places import all_joints_at, joints_at
from pathsim.findings.weld_places import fixed_points, weld_points
from pathsim.model import Cell, Point
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, frozen, rotation_about
from pathsim.units import degrees, millimetres

#: Turns about the wire, then tilts, rad; how far home is moved, m.
TWISTS, TILTS = np.radians((15.0, 30.0, 45.0, 60.0)), np.radians((5.0, 10.0, 15.0, 20.0))
HOME_OFF = (0.10, 0.20, 0.30)
_HOME_WAYS = (("up", 2, 1.0), ("towards +x", 0, 1.0), ("towards -x", 0, -1.0),
              ("towards +y", 1, 1.0), ("towards -y", 1, -1.0))  # fmt: skip
#: By the tool's pose and the direction of travel: what is turned about, ``(3,)``.
_Axis = Callable[[Array, Array], Array]
#: Tips nearer to each other than this have no direction between them, m.
_SAME_PLACE = 1e-4


def seam_of(tracks: tuple[MoveTrack, ...], index: int) -> tuple[int, int] | None:
    """Return first and last index of the moves with the arc on at a move, or beside it."""
    at = next((k for k in (index, index - 1, index + 1)
               if 0 <= k < len(tracks) and tracks[k].move.arc_on), None)  # fmt: skip
    if at is None:
        return None
    first = last = at
    while first > 0 and tracks[first - 1].move.arc_on:
        first -= 1
    while last + 1 < len(tracks) and tracks[last + 1].move.arc_on:
        last += 1
    return first, last


def other_torch_angles(
    evaluator: Evaluator, track: MoveTrack, body: str | None
) -> Iterator[CellChange | None]:
    """Yield cells with the torch turned about its wire, or tilted, all along a seam.

    ``body``: what is hit there, and asked about first.
    """
    cell, tracks = evaluator.cell, evaluator.before.trajectory.tracks
    seam = seam_of(tracks, track.index)
    if seam is None or any(tracks[k].fault is not None for k in range(seam[0], seam[1] + 1)):
        return
    along = dict(_directions(cell, tracks[seam[0] : seam[1] + 1]))
    if any(cell.points[name].q is None for name in along):
        return
    names = ", ".join(f"'{name}'" for name in along)
    for axis_of, angles, said in (
        (_wire, TWISTS, "Turn the torch {angle} about its wire at {names}"),
        (_travel, TILTS, "Tilt the torch sideways by {angle} (work angle) at {names}"),
        (_across, TILTS, "Tilt the torch along the seam by {angle} (travel angle) at {names}"),
    ):
        for angle in (sign * a for a in angles for sign in (1.0, -1.0)):
            points = _turned(cell, along, axis_of, float(angle))
            if points is None:
                continue
            other = with_points(cell, points)
            if not moves_are_clear(evaluator, other, body):
                yield None
                continue
            how = said.format(angle=degrees(abs(float(angle)), 0), names=names)
            which = _which_way(cell, points)
            text = f"{how}{which}. The wire's end stays where it is."
            yield CellChange(CellChangeKind.TORCH_ANGLE, text, other, points)


def _directions(cell: Cell, seam: tuple[MoveTrack, ...]) -> Iterator[tuple[str, Array]]:
    """Yield each point of a seam with the direction of travel there, ``(3,)``."""
    for k, track in enumerate(seam):
        tips = cell.tips(track.q)
        chord = _direction(tips[-1] - tips[0])
        if chord is None:
            continue
        if k == 0:
            yield track.start, _ahead(tips, chord)
        if track.move.via is not None:
            yield track.move.via, chord
        yield track.move.target, _ahead(-tips[::-1], chord)


def _ahead(tips: Array, otherwise: Array) -> Array:
    """Return the direction from the first of some tips, over a tenth of them; weaves even out."""
    count = max(len(tips) // 10, 1)
    found = _direction(tips[1 : count + 1].mean(axis=0) - tips[0]) if len(tips) > 1 else None
    near = found is not None and found @ otherwise > np.cos(np.radians(80.0))
    return otherwise if found is None or not near else found


def _direction(way: Array) -> Array | None:
    size = float(np.linalg.norm(way))
    return None if size < _SAME_PLACE else way / size


def _wire(T: Array, _: Array) -> Array:
    return np.asarray(T[:3, 2])


def _travel(_: Array, along: Array) -> Array:
    return along


def _across(T: Array, along: Array) -> Array:
    return np.asarray(np.cross(along, T[:3, 2]))


def _turned(
    cell: Cell, along: Mapping[str, Array], axis_of: _Axis, angle: float
) -> dict[str, Array] | None:
    """Return the axes of a seam's points with the torch turned about its tip; None if no reach."""
    points = {}
    for name, way in along.items():
        q = cell.points[name].q
        assert q is not None  # noqa: S101 - asked before
        T = cell.tool_poses(q[None])[0].copy()
        axis = axis_of(T, way)
        if np.linalg.norm(axis) < 0.1:
            return None
        T[:3, :3] = rotation_about(axis / np.linalg.norm(axis), angle) @ T[:3, :3]
        there = joints_at(cell, T, q)
        if there is None:
            return None
        points[name] = there
    return points


def _which_way(cell: Cell, points: Mapping[str, Array]) -> str:
    """Say which way the torch leans then, or turns; for the first of some points."""
    name, q = next(iter(points.items()))
    old = cell.points[name].q
    assert old is not None  # noqa: S101 - asked before
    before, after = cell.tool_poses(np.stack([old, q]))[:, :3, :3]
    lean = before[:, 2] - after[:, 2]  # the torch is at the wire's back
    if np.linalg.norm(lean) < 1e-6:
        turn = before[:, 2] @ np.cross(before[:, 0], after[:, 0])
        way = "clockwise" if turn > 0 else "anticlockwise"
        return f", {way} seen along the wire towards the weld"
    column = int(np.argmax(np.abs(lean)))
    return f", towards {'+' if lean[column] > 0 else '-'}{'xyz'[column]}"


def other_program_postures(evaluator: Evaluator) -> Iterator[CellChange | None]:
    """Yield cells with all points but the start taught at the same places in another posture."""
    cell = evaluator.cell
    used = _used(cell)
    if not has_postures(cell.arm) or not used or any(cell.points[n].q is None for n in used):
        return
    dof = cell.arm.dof
    reached: dict[str, dict[str, Array]] = {}
    for name in used:
        q = cell.points[name].q
        assert q is not None  # noqa: S101 - asked just now
        # Of several turns of one posture the nearest is last, and stays.
        others = all_joints_at(cell, q)
        others = [others[k] for k in np.argsort([-np.abs(o - q).max() for o in others])]
        reached[name] = {str(posture_of(cell.arm, o[:dof])): o for o in others}
    welds = weld_points(cell) & set(used)
    taught = next(iter(sorted(welds) or used))
    for posture in reached[taught]:
        if not all(posture in each for each in reached.values()):
            continue
        points = {name: reached[name][posture] for name in used}
        other = with_points(cell, points)
        text = (
            f"Teach all points but '{cell.program.start}' in another posture of the arm, at "
            f"the same places: {posture}."
        )
        is_clear = moves_are_clear(evaluator, other)
        yield CellChange(CellChangeKind.POSTURE, text, other, points) if is_clear else None


def _used(cell: Cell) -> list[str]:
    program = cell.program
    names = [n for m in program.moves for n in (m.via, m.target) if n is not None]
    return [
        name
        for name in dict.fromkeys(names)
        if name != program.start and not cell.points[name].derived
    ]


def other_homes(evaluator: Evaluator, track: MoveTrack) -> Iterator[CellChange | None]:
    """Yield cells with the program's start taught elsewhere, the torch as there."""
    cell, name = evaluator.cell, evaluator.cell.program.start
    home = cell.points[name].q
    if name not in (track.start, track.move.target) or name in fixed_points(cell) or home is None:
        return
    T = cell.tool_poses(home[None])[0]
    for far in HOME_OFF:
        for words, column, sign in _HOME_WAYS:
            there = T.copy()
            there[column, 3] += sign * far
            q = joints_at(cell, there, home)
            if q is None:
                continue
            other = with_points(cell, {name: q})
            text = f"Teach '{name}' {millimetres(far, 0)} {words}, torch as it is."
            is_clear = moves_are_clear(evaluator, other)
            yield CellChange(CellChangeKind.HOME, text, other, {name: q}) if is_clear else None


def with_points(cell: Cell, points: Mapping[str, Array]) -> Cell:
    """Return a cell with points taught at other axes ``(axes,)``, whatever they are used for."""
    taught = {name: Point(name, frozen(q), None) for name, q in points.items()}
    return replace(cell, points={**cell.points, **taught})

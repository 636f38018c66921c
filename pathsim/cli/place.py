"""``pathsim place``: where a jig or a body stands, or the torch's tip is, by touch."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pathsim.advice.keyed_in import WORLD, PoseConvention, keyed_in
from pathsim.cli.place_torch import axes_of, compare_torch
from pathsim.cli.place_written import SAME, place_text, turn_text, values, write_place
from pathsim.errors import CannotCheck, UnitError
from pathsim.files import load_cell
from pathsim.files.contents import CELL_FILE, own_folder
from pathsim.files.faults import did_you_mean
from pathsim.files.frames import BASE
from pathsim.files.groups import placement
from pathsim.files.points_entry import points_entry
from pathsim.files.points_header import points_form
from pathsim.files.touches_file import TouchRow, read_touches
from pathsim.files.yaml_edit import YamlEdit
from pathsim.model import Body, Cell, Role
from pathsim.model.groups import corners_of_box
from pathsim.model.run import shifts_runs
from pathsim.model.scenery import LEAST_KNOWN
from pathsim.model.turning_table import StandsOn
from pathsim.motion.shifted_points import shifted_points
from pathsim.touches import Feature, Placement, Touch, fit_placement, odd_one_out, touch_noise
from pathsim.transforms import Array, apply, inverse
from pathsim.units import degrees, millimetres, parse

if TYPE_CHECKING:
    from rich.console import Console

TORCH = "torch"
#: A torch that turns by less has not turned, rad.
_NO_TURN = np.radians(0.01)
#: So many places lie in one plane, whatever is wrong with them.
_PLANE = 3


@dataclass(frozen=True)
class PlaceQuestion:
    """What was asked: see the options of ``pathsim place``."""

    cell: Path
    what: str
    touches: Path
    frame: str | None
    off: str
    write: bool
    points: bool = False


def answer_place(question: PlaceQuestion, console: Console) -> bool:
    """Print the answer; return whether the touches fit together."""
    if question.frame not in (None, BASE, WORLD):
        raise CannotCheck(f"--frame '{question.frame}' is not known; give base or world")
    try:
        (off,) = parse(question.off, "length", 1)
    except UnitError as error:
        raise CannotCheck(f"--touch: {error}; give it with its unit, such as '1 mm'") from error
    if not 0 < off <= LEAST_KNOWN:
        raise CannotCheck(f"--touch {question.off}: a touch is within 0 to 30 mm of its place")
    cell = load_cell(question.cell)
    form = points_form(cell.arm, cell.table, None, None)
    rows = read_touches(question.touches, form)
    if question.what == TORCH:
        if question.write:
            raise CannotCheck("the torch is only compared; put it into its description by hand")
        return compare_torch(cell, rows, touch_noise(off), console)
    frame = _frame(question, cell, rows, console)
    return _placed(question, cell, rows, frame, touch_noise(off), console)


def _frame(question: PlaceQuestion, cell: Cell, rows: list[TouchRow], console: Console) -> str:
    """Return what places of the tip count from: as was said, else as the cell's points do.

    Raises CannotCheck where nothing says it and it makes a difference.
    """
    if question.frame is not None or all(row.tip is None for row in rows):
        return question.frame or BASE
    _, said = points_entry(question.cell, is_named=True)
    if said in (BASE, WORLD):
        console.print(
            f"Touches count from the {said}, as the cell's points do ('--frame' differs)."
        )
        return said
    if np.allclose(cell.T_world_base @ cell.arm.readings.T_base_shown, np.eye(4), atol=1e-9):
        return BASE
    points = f"the cell's points count from '{said}'" if said else "the cell's points do not say it"
    raise CannotCheck(
        f"what do the touches' x, y, z count from? {points[:1].upper()}{points[1:]}. Add "
        "'--frame base' or '--frame world', as the display shows the tip"
    )


def _tip(cell: Cell, row: TouchRow, frame: str, *, stands_on: StandsOn) -> Array:
    """Tip ``(3,)`` in the world; of what the table carries, with the table at zero."""
    if row.shown is not None:
        q = axes_of(cell, row.shown)[None]
        return np.asarray(cell.tips_seen_from(stands_on, q)[0])
    assert row.tip is not None  # noqa: S101 - a row has one of them
    if frame == "world":
        return row.tip
    T = cell.T_world_base @ cell.arm.readings.T_base_shown
    return np.asarray(T[:3, :3] @ row.tip + T[:3, 3])


def _placed(
    question: PlaceQuestion,
    cell: Cell,
    rows: list[TouchRow],
    frame: str,
    noise: float,
    console: Console,
) -> bool:
    edit = YamlEdit(own_folder(question.cell) / CELL_FILE)
    entry, bodies = _entry(edit.data, cell, question.what)
    stands_on = StandsOn.named(entry.get("on"))
    T_before = placement(values(entry["at"], "length"), values(entry.get("turned"), "angle"))
    touches = []
    for row in rows:
        if row.drawn is None:
            raise CannotCheck(
                f"touch '{row.name}' (line {row.line}) does not say which place of the drawing "
                "it is: columns dx mm, dy mm, dz mm"
            )
        tip = _tip(cell, row, frame, stands_on=stands_on)
        touches.append(Touch(row.name, tip, row.drawn, row.feature, row.direction))
    found = fit_placement(touches, T_before, noise)
    T, T_moved = found.T_world_drawing, found.T_world_drawing @ inverse(T_before)
    console.print(f"{question.what}: {len(touches)} touches")
    console.print(f"  at {place_text(T[:3, 3])}, turned {turn_text(T)}")
    angle = np.degrees(np.arccos(np.clip((np.trace(T_moved[:3, :3]) - 1) / 2, -1, 1)))
    shift = float(np.linalg.norm(T[:3, 3] - T_before[:3, 3]))
    console.print(f"  The cell file has it {millimetres(shift)} and {angle:.2f} deg elsewhere.")
    for touch, left in zip(touches, found.residuals, strict=True):
        console.print(f"  {touch.name}: {millimetres(left)} off its {touch.feature}")
    _doubts(found, touches, console)
    if not found.fits:
        _odd_one(touches, T_before, noise, console)
    corners = [(T_moved @ b.T_world_body, b) for b in bodies]
    places = np.vstack([b.mesh.moved(pose).corners for pose, b in corners])
    within = None
    if question.what in {group.name for group in cell.groups}:
        # One number for all that stands on the jig: it has to hold in a box round all of it.
        in_group = [apply(inverse(T) @ pose, b.mesh.corners) for pose, b in corners]
        within = _box_round(np.vstack(in_group))
        places = apply(T, corners_of_box(within))
    for pose, body in corners:
        worst = max(found.off_at(place) for place in body.mesh.moved(pose).corners)
        console.print(f"  {body.name}: known to {millimetres(worst)} (95 times in 100)")
    _seams(cell, found, T_moved, bodies, stands_on, console)
    if question.points:
        _taught(question, cell, T_moved, stands_on, console)
    known_to = np.ceil(found.widening(places) * 1e4) / 1e4
    console.print(f"  All margins to it have to be {millimetres(known_to)} wider ('known to').")
    console.print(
        "  That is more than 'known to' above: a margin has to hold as good as always, not 95 "
        f"times in 100{'' if within is None else ', and in all of the box round the group'}."
    )
    if question.write:
        write_place(question.cell, edit, entry, found, known_to, within, bodies, console)
    return found.fits


def _doubts(found: Placement, touches: list[Touch], console: Console) -> None:
    """Say what of the touches is to be doubted."""
    if not found.is_tested:
        console.print("  Just as many touches as needed: a wrong one would not be seen.")
    elif found.unproved:
        names = ", ".join(f"'{touches[k].name}'" for k in found.unproved)
        blind = (
            "square to the plane of the three"
            if len(touches) == len(found.unproved) == _PLANE
            and all(touch.feature is Feature.PLACE for touch in touches)
            else "in one direction"
        )
        console.print(
            f"  Not proved: {names} may be wrong {blind}, and nothing here would show it. The jig "
            "would come out tilted. Touch one more place, far from these."
        )
    if not found.fits:
        name = touches[found.worst].name
        console.print(
            f"  The touches do not fit together; '{name}' is off most. Touch it again, and look "
            "whether it is the place of the drawing that you named."
        )
    for words in found.hardly_fixed:
        console.print(f"  Hardly fixed: {words}. Touch places farther apart.")


def _odd_one(touches: list[Touch], T_before: Array, noise: float, console: Console) -> None:
    """Name the touch that alone is wrong, by how much, and where the others have the place."""
    odd = odd_one_out(touches, T_before, noise)
    if odd is not None:
        index, fit = odd
        touch = touches[index]
        away = float(np.linalg.norm(apply(inverse(fit.T_world_drawing), touch.tip) - touch.drawn))
        least = millimetres(float(fit.residuals.max()))
        console.print(
            f"  Without '{touch.name}' the other {len(touches) - 1} fit, at most {least} off: at "
            f"{place_text(fit.T_world_drawing[:3, 3])}, turned {turn_text(fit.T_world_drawing)}."
        )
        if touch.feature is Feature.PLACE:
            console.print(f"  '{touch.name}' is {millimetres(away)} off its place then.")
    console.print("  The numbers below are of all touches, and worth little till these fit.")


def _seams(
    cell: Cell,
    found: Placement,
    T_moved: Array,
    bodies: list[Body],
    stands_on: StandsOn,
    console: Console,
) -> None:
    """Say how well each seam's end is known, and how far its taught point is off by now."""
    if not any(body.role is Role.PART for body in bodies):
        return
    names = dict.fromkeys(move.target for move in cell.program.moves if move.arc_on)
    for name in names:
        q = cell.points[name].q
        if q is None:
            continue
        tip = cell.tips_seen_from(stands_on, q[None])[0]
        there = T_moved[:3, :3] @ tip + T_moved[:3, 3]
        console.print(
            f"  Seam at '{name}': known to {millimetres(found.off_at(there))}; if it was taught "
            f"on the old place, it is {millimetres(float(np.linalg.norm(there - tip)))} off."
        )


def _taught(
    question: PlaceQuestion, cell: Cell, T_moved: Array, stands_on: StandsOn, console: Console
) -> None:
    """Say which taught points are off by how much, and what to key in for each."""
    points = shifted_points(cell, T_moved, stands_on=stands_on)
    if not points:
        console.print("  No weld, so no taught point has to go with it.")
        return
    rotation, frame = points_entry(question.cell)
    usual = PoseConvention()
    how = PoseConvention(rotation or usual.rotation, frame if frame == WORLD else usual.frame)
    console.print("If the part stood in the old place when they were taught, teach anew:")
    for point in points:
        x, y, z = (f"{1e3 * value + 0.0:+.1f}" for value in point.off)
        turn = f", turn the torch {degrees(point.turn)}" if point.turn > _NO_TURN else ""
        console.print(
            f"  '{point.name}': {millimetres(point.distance)} off; x {x}, y {y}, z {z} mm in the "
            f"world{turn}.",
            highlight=False,
        )
        if point.q is None:
            console.print("    The arm does not reach it there, within its limits.")
            continue
        for said in keyed_in(cell, {point.name: point.q}, how):
            for words in said.words:
                console.print(f"    {words}", highlight=False)
    console.print("Retract and approach points are in the air: check them after that.")
    if shifts_runs(cell.program) and any(point.turn > _NO_TURN for point in points):
        console.print("Runs of a subprogram are shifted in axes of their own: check each shift.")


def _entry(data: Any, cell: Cell, what: str) -> tuple[Any, list[Body]]:
    """Return the entry of a group or of a body, and the bodies that it places."""
    groups = data.get("groups") or {}
    if what in groups:
        names = [str(body["name"]) for body in data["bodies"] if body.get("on") == what]
        return groups[what], [cell.body(name) for name in names]
    for body in data["bodies"]:
        if body["name"] == what:
            if body.get("on") in groups:
                raise CannotCheck(f"'{what}' is placed by its group: place '{body['on']}'")
            return body, [cell.body(what)]
    known = [*groups, *(str(body["name"]) for body in data["bodies"]), TORCH]
    cure = did_you_mean(what, known)
    raise CannotCheck(f"'{what}' is no group, body or torch of this cell. {cure}".rstrip())


def _box_round(places: Array) -> Array:
    """Lowest and highest corner ``(2, 3)`` of a box round places ``(n, 3)``, to a whole mm, m."""
    low = np.floor(1e3 * places.min(axis=0) - SAME) / 1e3
    high = np.ceil(1e3 * places.max(axis=0) + SAME) / 1e3
    return np.array([low, high])

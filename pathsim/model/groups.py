"""Groups: bodies that stand on the same jig, and move together when it does."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from pathsim.model import sound
from pathsim.model.scenery import IDENTITY, LEAST_KNOWN, Body
from pathsim.model.turning_table import (
    TABLE,
    TILT_FRAME,
    StandsOn,
    require_one_stand,
    standing_on,
)
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, apply, inverse

if TYPE_CHECKING:
    from pathsim.model.cell import Cell

#: What bodies and groups stand on besides the floor: no group may have such a name.
STANDS = (TABLE, TILT_FRAME)
#: Rounding of sums of lengths, m.
_ROUNDED = 1e-9
#: How far a body may reach out of the box within which its group was placed, m: rounding in files.
_OUT = 1e-5


@dataclass(frozen=True, eq=False)
class Group(FieldsOnly):
    """A jig: bodies name it as their ``group``.

    ``T_world_group (4, 4)``: its place, with the table at zero. ``on_table``: it turns with the
    turning table, and so do its bodies. ``known_to``: how far off any place of it may be, m.
    ``known_within (2, 3)``: lowest and highest corner, m, in the group's frame, of the box in which
    ``known_to`` holds: a jig that is turned a little is off by more farther out. None: all over.
    ``on_tilt``: it moves with the tilt frame of a table of two axes, and does not turn.
    """

    name: str
    T_world_group: Array = field(default_factory=lambda: IDENTITY)
    on_table: bool = False
    known_to: float = 0.0
    known_within: Array | None = None
    on_tilt: bool = False

    def __post_init__(self) -> None:
        of = f"group {sound.shown(self.name)}"
        sound.text("group: name", self.name)
        if self.name in STANDS:
            sound.refuse("group: name", self.name, "another name: the table's is taken")
        for name in ("on_table", "on_tilt"):
            sound.flag(f"{of}: {name}", getattr(self, name))
        require_one_stand(of, self.on_tilt, self.on_table)
        sound.number(f"{of}: known_to", self.known_to, "m", low=0.0, high=LEAST_KNOWN)
        sound.put(self, T_world_group=sound.pose(f"{of}: T_world_group", self.T_world_group))
        if self.known_within is not None:
            due = "lowest and highest corner (2, 3) in m"
            box = sound.array(f"{of}: known_within", self.known_within, (2, 3), due)
            if (box[0] > box[1]).any():
                sound.refuse(f"{of}: known_within", box, due)
            sound.put(self, known_within=box)

    def __repr__(self) -> str:
        return f"Group({self.name!r}, known to {self.known_to * 1e3:g} mm)"

    @property
    def stands_on(self) -> StandsOn:
        """What it stands on."""
        return standing_on(self.on_tilt, self.on_table)

    def reach(self, body: Body) -> Array:
        """Corners ``(8, 3)``, m, in the group's frame, of a box that holds a body."""
        return apply(inverse(self.T_world_group) @ body.T_world_body, body.mesh.corners)

    def out_by(self, body: Body) -> float:
        """How far a body reaches out of ``known_within``, m; 0 where it does not."""
        if self.known_within is None or not self.known_to:
            return 0.0
        corners, (low, high) = self.reach(body), self.known_within
        off = float(np.maximum(low - corners, corners - high).max())
        return off if off > _OUT else 0.0


def require_groups(groups: tuple[Group, ...], bodies: tuple[Body, ...]) -> None:
    """Refuse bodies that do not stand as their group does; raises CellError."""
    if not groups and all(body.group is None for body in bodies):
        return
    sound.once("cell: name of a group", [group.name for group in groups])
    by_name = {group.name: group for group in groups}
    for body in bodies:
        if body.group is None:
            continue
        of = f"body {body.name!r}"
        sound.known(f"{of}: group", body.group, by_name, "the name of a group of the cell")
        group = by_name[body.group]
        for name in ("on_table", "on_tilt"):
            own, its = getattr(body, name), getattr(group, name)
            if own != its:
                sound.refuse(f"{of}: {name}", own, f"{its}, as its group")
        if body.known_to < group.known_to - _ROUNDED:
            due = f"at least {group.known_to:g} m, as its group"
            sound.refuse(f"{of}: known_to", body.known_to, due)
        out = group.out_by(body)
        if out > 0:
            due = (
                f"all of it within the box in which {group.name!r} is known to "
                f"{group.known_to * 1e3:g} mm"
            )
            sound.refuse(f"{of}: T_world_body", f"{out * 1e3:.1f} mm out", due)


def with_group(cell: Cell, group: Group) -> Cell:
    """Return a cell with a group, and its bodies where that puts them (``Cell.with_group``)."""
    sound.record("cell: group", group, Group, "a Group")
    names = [one.name for one in cell.groups]
    if group.name not in names:
        return replace(cell, groups=(*cell.groups, group))
    where = names.index(group.name)
    old = cell.groups[where]
    T = group.T_world_group @ inverse(old.T_world_group)
    bodies = tuple(
        body
        if body.group != group.name
        else replace(
            body,
            T_world_body=T @ body.T_world_body,
            on_table=group.on_table,
            on_tilt=group.on_tilt,
            known_to=max(body.known_to - old.known_to, 0.0) + group.known_to,
        )
        for body in cell.bodies
    )
    groups = (*cell.groups[:where], group, *cell.groups[where + 1 :])
    return replace(cell, groups=groups, bodies=bodies)


def corners_of_box(box: Array) -> Array:
    """Corners ``(8, 3)`` of a box ``(2, 3)``: its lowest and highest."""
    picks = np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, -1).T
    return np.asarray(np.where(picks == 0, box[0], box[1]))

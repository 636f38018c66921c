"""What stands still and what was taught: bodies, points, margins."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from pathsim.arm.postures import ANY_POSTURE, Posture
from pathsim.geometry.mesh import Mesh
from pathsim.model import sound
from pathsim.records import FieldsOnly
from pathsim.transforms import Array


class Role(StrEnum):
    """What a body is for; the wire may touch a part where it welds, nothing else."""

    PART = "part"
    FIXTURE = "fixture"
    CLAMP = "clamp"
    TABLE = "table"
    OTHER = "other"


#: What a body may bear.
BEARS = ("arm", "turning table")


@dataclass(frozen=True, eq=False)
class Body(FieldsOnly):
    """A mesh that stands still, or turns with the turning table (``on_table``).

    ``T_world_body (4, 4)``: its place, with the table at zero. ``bears``: what it carries and
    therefore touches, "arm" (the slide of a rail) or "turning table". ``unit``: the unit of length
    that its mesh file was read in, empty where nobody said. Raises CellError when it cannot be
    meant.
    """

    name: str
    role: Role
    mesh: Mesh
    T_world_body: Array
    on_table: bool = False
    bears: str | None = None
    unit: str = ""

    @cached_property
    def bounds(self) -> Array:
        """``(2, 3)``: lowest and highest corner of its box in the world, the table at zero."""
        return self.mesh.moved(self.T_world_body).bounds

    def __post_init__(self) -> None:
        of = f"body {sound.shown(self.name)}"
        sound.text("body: name", self.name)
        sound.record(f"{of}: mesh", self.mesh, Mesh, "a Mesh")
        sound.flag(f"{of}: on_table", self.on_table)
        if self.bears not in (None, *BEARS):
            sound.refuse(f"{of}: bears", self.bears, f"None or one of: {', '.join(BEARS)}")
        if self.on_table and self.bears is not None:
            sound.refuse(f"{of}: bears", self.bears, "None: it stands on the turning table")
        T = sound.pose(f"{of}: T_world_body", self.T_world_body)
        sound.put(self, role=sound.word(f"{of}: role", self.role, Role), T_world_body=T)

    def __repr__(self) -> str:
        return f"Body({self.name!r}, {self.role}, {len(self.mesh.faces)} triangles)"


@dataclass(frozen=True, eq=False)
class Point(FieldsOnly):
    """A taught point: values of all axes ``q (axes,)``, or a pose of the tool, or both.

    ``T_base_tcp (4, 4)`` is in the arm's base frame. For a pose without axes, ``held`` gives
    the values of the cell's held axes (rail, table; ``Axes.held``) where they were taught,
    ``posture`` how the arm shall stand, and ``about`` the rough values of joints that tell whole
    turns: (joint index, what the display shows there to a quarter of a turn, rad).
    """

    name: str
    q: Array | None
    T_base_tcp: Array | None
    held: Array | None = None
    posture: Posture = ANY_POSTURE
    about: tuple[tuple[int, float], ...] = ()

    @property
    def asks_for_posture(self) -> bool:
        """Tell whether it says how the arm shall stand in its pose."""
        return bool(self.posture) or bool(self.about)

    def __post_init__(self) -> None:
        of = f"point {sound.shown(self.name)}"
        sound.text("point: name", self.name)
        if self.q is None and self.T_base_tcp is None:
            sound.refuse(of, None, "joint values (q), a pose (T_base_tcp), or both")
        for name in ("q", "held"):
            value = getattr(self, name)
            if value is not None:
                found = sound.array(f"{of}: {name}", value, (None,), "numbers (n,) in rad or m")
                sound.put(self, **{name: found})
        sound.record(f"{of}: posture", self.posture, Posture, "a Posture")
        if self.T_base_tcp is not None:
            sound.put(self, T_base_tcp=sound.pose(f"{of}: T_base_tcp", self.T_base_tcp))

    def __repr__(self) -> str:
        given = [name for name in ("q", "T_base_tcp") if getattr(self, name) is not None]
        return f"Point({self.name!r}, {' and '.join(given)})"


#: A margin of more than this is in a wrong unit, m.
LARGEST_MARGIN = 1.0


@dataclass(frozen=True)
class Margins:
    """Clearance asked for, m: on air moves, on straight moves to and from a seam, on seams.

    Raises CellError below 0.
    """

    air: float
    approach: float
    seam: float

    def __post_init__(self) -> None:
        for name in ("air", "approach", "seam"):
            sound.number(f"margins: {name}", getattr(self, name), "m", low=0.0, high=LARGEST_MARGIN)

"""What stands still and what was taught: bodies, points, margins."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from pathsim.arm.postures import ANY_POSTURE, Posture
from pathsim.model.mesh import Mesh
from pathsim.transforms import Array


class Role(StrEnum):
    """What a body is for; the wire may touch a part where it welds, nothing else."""

    PART = "part"
    FIXTURE = "fixture"
    CLAMP = "clamp"
    TABLE = "table"
    OTHER = "other"


@dataclass(frozen=True, eq=False)
class Body:
    """A mesh that stands still, or turns with the turning table (``on_table``).

    ``T_world_body (4, 4)``: its place, with the table at zero. ``bears``: what it carries and
    therefore touches, "arm" (the slide of a rail) or "turning table". ``unit``: the unit of length
    that its mesh file was read in, empty where nobody said.
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


@dataclass(frozen=True, eq=False)
class Point:
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


@dataclass(frozen=True)
class Margins:
    """Clearance asked for, m: on air moves, on straight moves to and from a seam, on seams."""

    air: float
    approach: float
    seam: float

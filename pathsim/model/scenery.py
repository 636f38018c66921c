"""What stands still and what was taught: bodies, points, margins."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

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
    """A mesh that stands still. ``T_world_body (4, 4)``."""

    name: str
    role: Role
    mesh: Mesh
    T_world_body: Array


@dataclass(frozen=True, eq=False)
class Point:
    """A taught point: joint values ``q (dof,)``, or a pose of the tool, or both.

    ``T_base_tcp (4, 4)`` is in the arm's base frame.
    """

    name: str
    q: Array | None
    T_base_tcp: Array | None


@dataclass(frozen=True)
class Margins:
    """Clearance asked for, m: on air moves, on straight moves to and from a seam, on seams."""

    air: float
    approach: float
    seam: float

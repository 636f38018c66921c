"""What stands still and what was taught: bodies, points, margins."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.postures import ANY_POSTURE, Posture
from pathsim.errors import MeshError
from pathsim.geometry.mesh import Mesh
from pathsim.mesh_files import drawn_to, load_mesh
from pathsim.model import sound
from pathsim.model.turning_table import (
    TABLE,
    TILT_FRAME,
    StandsOn,
    require_one_stand,
    standing_on,
)
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, frozen
from pathsim.units import factor

IDENTITY = frozen(np.eye(4))


class Role(StrEnum):
    """What a body is for; the wire may touch a part where it welds, nothing else."""

    PART = "part"
    FIXTURE = "fixture"
    CLAMP = "clamp"
    TABLE = "table"
    OTHER = "other"


class ToDo(StrEnum):
    """What of a cell is still an example, and not yet as the real one."""

    ARM = "arm"
    TORCH = "torch"
    BODIES = "bodies"
    POINTS = "points"
    PROGRAM = "program"


#: A body whose place is known less well than this has to be placed first, m.
LEAST_KNOWN = 0.03
#: A mesh that is farther off its true surface than this is of no use, m.
LEAST_DRAWN = 0.005
#: What a body may bear.
BEARS = ("arm", TABLE, TILT_FRAME)


@dataclass(frozen=True, eq=False)
class Body(FieldsOnly):
    """A mesh that stands still, turns with the turning table (``on_table``), or tilts alone.

    ``T_world_body (4, 4)``: its place, with the table at zero. ``bears``: what it carries and
    therefore touches, "arm" (the slide of a rail), "turning table" or "tilt frame". ``unit``: the
    unit of length that its mesh file was read in, empty where nobody said. ``known_to``: how far
    off its place it may be, m, its group's share in it; every margin to it is wider by that.
    ``group``: the name of the cell's group that it stands on. ``drawn_to``: how far its triangles
    may be off the true surface, m; margins are wider by that too. ``on_tilt``: it moves with the
    tilt frame of a table of two axes, and does not turn. Raises CellError when it cannot be meant.
    """

    name: str
    role: Role
    mesh: Mesh
    T_world_body: Array = field(default_factory=lambda: IDENTITY)
    on_table: bool = False
    bears: str | None = None
    unit: str = ""
    known_to: float = 0.0
    group: str | None = None
    drawn_to: float = 0.0
    on_tilt: bool = False

    @classmethod
    def from_file(
        cls,
        path: str | Path,
        *,
        unit: str = "",
        role: Role | str = Role.OTHER,
        name: str = "",
        T_world_body: ArrayLike = IDENTITY,
        up: str | None = None,
        on_table: bool = False,
        bears: str | None = None,
        known_to: float = 0.0,
        group: str | None = None,
        on_tilt: bool = False,
    ) -> Body:
        """Make a body from a mesh file (STL, OBJ, OFF, PLY, GLB, 3MF or STEP).

        ``unit``: mm, cm, m or in, never guessed; 3MF and STEP say their own. ``name``: the file's
        own, without its ending, when not given. ``up``: see ``pathsim.mesh_files.load_mesh``.
        Raises MeshError when the file cannot be used, UnitError for another unit, CellError as the
        record does.
        """
        mesh = load_mesh(path, unit, up)
        said = name or Path(path).stem.replace("_", " ")
        place = np.asarray(T_world_body)
        return cls(
            said, _role(said, role), mesh, place, on_table, bears, unit, known_to, group,
            drawn_to(Path(path)), on_tilt,
        )  # fmt: skip

    @classmethod
    def from_arrays(
        cls,
        name: str,
        vertices: ArrayLike,
        faces: ArrayLike,
        *,
        unit: str,
        role: Role | str = Role.OTHER,
        T_world_body: ArrayLike = IDENTITY,
        on_table: bool = False,
        bears: str | None = None,
        known_to: float = 0.0,
        group: str | None = None,
        on_tilt: bool = False,
    ) -> Body:
        """Make a body from ``vertices (n, 3)`` in ``unit`` (mm, cm, m, in) and ``faces (m, 3)``.

        Raises MeshError when they make no mesh, UnitError for another unit, CellError as the
        record does.
        """
        scale = factor(unit, "length")
        try:
            scaled = np.asarray(vertices, np.float64) * scale
        except (TypeError, ValueError) as error:
            raise MeshError(f"body {name!r}: vertices must be numbers (n, 3): {error}") from error
        mesh = Mesh(scaled, np.asarray(faces))
        T = np.asarray(T_world_body)
        return cls(
            name, _role(name, role), mesh, T, on_table, bears, unit, known_to, group,
            on_tilt=on_tilt,
        )  # fmt: skip

    @classmethod
    def from_trimesh(
        cls,
        name: str,
        shape: Any,
        *,
        unit: str,
        role: Role | str = Role.OTHER,
        T_world_body: ArrayLike = IDENTITY,
        on_table: bool = False,
        bears: str | None = None,
        known_to: float = 0.0,
        group: str | None = None,
        on_tilt: bool = False,
    ) -> Body:
        """Make a body from a ``trimesh.Trimesh``, its numbers in ``unit`` (mm, cm, m, in).

        Raises MeshError for anything else, a scene among it; else as ``from_arrays``.
        """
        if not (hasattr(shape, "vertices") and hasattr(shape, "faces")):
            raise MeshError(
                f"body {name!r}: came a {type(shape).__name__}; expected a trimesh.Trimesh (of a "
                "scene: scene.to_mesh())"
            )
        return cls.from_arrays(
            name, shape.vertices, shape.faces, unit=unit, role=role,
            T_world_body=T_world_body, on_table=on_table, bears=bears, known_to=known_to,
            group=group, on_tilt=on_tilt,
        )  # fmt: skip

    @property
    def stands_on(self) -> StandsOn:
        """What it stands on."""
        return standing_on(self.on_tilt, self.on_table)

    @property
    def stands_from(self) -> int:
        """Index of the first move of the program on which it stands: of a bead not the first."""
        return 0

    @property
    def bead_top(self) -> float:
        """Of a bead: how high it stands over the line of the wire's end, m; 0 of anything else."""
        return 0.0

    @property
    def is_carried(self) -> bool:
        """Whether it moves with the turning table, or with its tilt frame."""
        return self.on_table or self.on_tilt

    @property
    def off_by(self) -> float:
        """How far any of its surface may be from where the model has it, m."""
        return self.known_to + self.drawn_to

    @cached_property
    def bounds(self) -> Array:
        """``(2, 3)`` m: lowest and highest corner of its box in the world, the table at zero."""
        T = self.T_world_body
        if np.array_equal(T[:3, :3], np.eye(3)):  # as most bodies stand: the same to the last bit
            return frozen(self.mesh.bounds + T[:3, 3])
        return self.mesh.moved(T).bounds

    def __post_init__(self) -> None:
        of = f"body {sound.shown(self.name)}"
        sound.text("body: name", self.name)
        sound.record(f"{of}: mesh", self.mesh, Mesh, "a Mesh")
        for name in ("on_table", "on_tilt"):
            sound.flag(f"{of}: {name}", getattr(self, name))
        require_one_stand(of, self.on_tilt, self.on_table)
        sound.number(f"{of}: known_to", self.known_to, "m", low=0.0, high=LEAST_KNOWN)
        sound.number(f"{of}: drawn_to", self.drawn_to, "m", low=0.0, high=LEAST_DRAWN)
        if self.group is not None:
            sound.text(f"{of}: group", self.group)
        if self.bears not in (None, *BEARS):
            sound.refuse(f"{of}: bears", self.bears, f"None or one of: {', '.join(BEARS)}")
        if self.on_table and self.bears is not None:
            sound.refuse(f"{of}: bears", self.bears, "None: it stands on the turning table")
        if self.on_tilt and self.bears not in (None, TABLE):
            due = f"None or '{TABLE}': it stands on the tilt frame"
            sound.refuse(f"{of}: bears", self.bears, due)
        if self.group is not None and self.bears is not None:
            sound.refuse(f"{of}: bears", self.bears, "None: it stands on a group")
        T = sound.pose(f"{of}: T_world_body", self.T_world_body)
        sound.put(self, role=sound.word(f"{of}: role", self.role, Role), T_world_body=T)

    def __repr__(self) -> str:
        return f"Body({self.name!r}, {self.role}, {len(self.mesh.faces)} triangles)"


def _role(name: str, role: Role | str) -> Role:
    return sound.word(f"body {sound.shown(name)}: role", role, Role)


@dataclass(frozen=True, eq=False)
class Point(FieldsOnly):
    """A taught point: values of all axes ``q (axes,)``, or a pose of the tool, or both.

    ``T_base_tcp (4, 4)`` is in the arm's base frame. For a pose without axes, ``held`` gives
    the values of the cell's held axes (rail, table; ``Axes.held``) where they were taught,
    ``posture`` how the arm shall stand, and ``about`` the rough values of joints that tell whole
    turns: (joint index, what the display shows there to a quarter of a turn, rad). ``derived``:
    nobody taught it; it follows from the points of this line of the program, and is made anew
    with each cell.
    """

    name: str
    q: Array | None = None
    T_base_tcp: Array | None = None
    held: Array | None = None
    posture: Posture = ANY_POSTURE
    about: tuple[tuple[int, float], ...] = ()
    derived: bool = False

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

"""The cell: everything a check needs, in one frozen record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm import Arm
from pathsim.arm.postures import ANY_POSTURE, Posture
from pathsim.geometry.mesh import Mesh
from pathsim.model import cell_edits
from pathsim.model.assembly import Assembly
from pathsim.model.cable import Cable
from pathsim.model.cell_pieces import CellPieces
from pathsim.model.cell_poses import CellPoses
from pathsim.model.cell_rules import require_sound
from pathsim.model.groups import Group, with_group
from pathsim.model.hoses import Hose
from pathsim.model.labels import Labels
from pathsim.model.margins import Margins
from pathsim.model.move import Move
from pathsim.model.process import Process
from pathsim.model.program import Program
from pathsim.model.scenery import IDENTITY, Body, Point, ToDo
from pathsim.model.shared_room import SharedRoom
from pathsim.model.torch import Torch
from pathsim.model.turning_table import TurningTable
from pathsim.model.wanted_contact import Station
from pathsim.records import FieldsOnly
from pathsim.transforms import Array


@dataclass(frozen=True, eq=False, kw_only=True)
class Cell(CellPieces, CellPoses, FieldsOnly):
    """A cell ready to be checked; what decides a verdict has to be said: limits and margins too.

    ``points``: by name; one may come as its axes alone, ``(axes,)`` in rad, m on sliding axes.
    ``T_world_base (4, 4)``: where the arm stands, the world's origin when not said.
    ``link_meshes`` has ``dof + 1`` entries in link frames, base first; None where the description
    says that a link has no shape, and for the bed of a rail. Left out, no link has one, and every
    check says so. ``links_drawn_to``: how far each of them may be off the true surface, m, empty
    where none is. ``approximate_links``: those that are solids in place of castings;
    ``shared_room``: what these share by construction.
    ``tip_speed``, ``tip_acceleration`` and ``tip_jerk`` are the arm's largest, m/s, m/s^2, m/s^3;
    no jerk limit when not said.
    ``natural_frequency``: the arm's measured first one, Hz. ``override``: share of the program's
    speeds in the first run. ``process``: what seams are welded with, if said. ``table``: the
    turning table, if there is one. ``cables``: those that one link carries; others are not in
    the model. ``weaves``, ``schedules``, ``subprograms``: names of all described, used or not.
    ``to_do``: what is still an example, said in every result. ``groups``: jigs with bodies that
    name them. ``stations``: bodies that serve the torch. ``hoses``: how far hoses stand to be
    wound up about a joint, where that is known. ``labels``: program, part, job and
    revision, for paper. ``assemblies``: mesh files of several parts, and what uses which.
    ``fingerprint`` is a hash over all ``files``, which are named from the folder that holds the
    cell folder.

    Joint vectors of a cell have a column for each of its ``axes``: the arm's joints, then the
    turning table's (tilt, turn). Raises CellError when the records do not fit together
    (``cell_rules``).
    """

    arm: Arm
    torch: Torch
    points: Mapping[str, Point]
    program: Program
    margins: Margins
    tip_speed: float
    tip_acceleration: float
    name: str = "cell"
    T_world_base: Array = field(default_factory=lambda: IDENTITY)
    link_meshes: tuple[Mesh | None, ...] = ()
    bodies: tuple[Body, ...] = ()
    fingerprint: str = ""
    files: tuple[str, ...] = ()
    table: TurningTable | None = None
    approximate_links: tuple[int, ...] = ()
    tip_jerk: float = np.inf
    natural_frequency: float | None = None
    override: float = 0.5
    process: Process | None = None
    cables: tuple[Cable, ...] = ()
    weaves: tuple[str, ...] = ()
    schedules: tuple[str, ...] = ()
    subprograms: tuple[str, ...] = ()
    shared_room: SharedRoom = field(default_factory=SharedRoom)
    to_do: tuple[ToDo, ...] = ()
    groups: tuple[Group, ...] = ()
    stations: tuple[Station, ...] = ()
    labels: Labels = field(default_factory=Labels)
    links_drawn_to: tuple[float, ...] = ()
    assemblies: tuple[Assembly, ...] = ()
    hoses: tuple[Hose, ...] = ()

    def __post_init__(self) -> None:
        require_sound(self)

    def __repr__(self) -> str:
        bodies, moves = len(self.bodies), len(self.program.moves)
        return f"Cell({self.name!r}, {bodies} bodies, {len(self.points)} points, {moves} moves)"

    def with_point(
        self,
        name: str,
        *,
        q: ArrayLike | None = None,
        T_base_tcp: ArrayLike | None = None,
        T_world_tcp: ArrayLike | None = None,
        held: ArrayLike | None = None,
        posture: Posture | str = ANY_POSTURE,
        about: tuple[tuple[int, float], ...] = (),
    ) -> Cell:
        """Return the cell with a point taught anew, or one more.

        ``q (axes,)`` in rad, m on sliding axes, or the tool centre point's pose ``(4, 4)`` in m,
        in the arm's base or in the world, or axes and a pose. ``held``, ``posture`` (or its words,
        as in a points file) and ``about`` as in ``Point``. What is not given of a point that is
        there already goes: a new place is a new point. Raises CellError or ArmError.
        """
        pose = cell_edits.pose_in_base(self, name, T_base_tcp, T_world_tcp)
        return cell_edits.with_point(self, name, q, pose, held, posture, about)

    def without_point(self, name: str) -> Cell:
        """Return the cell without a point. CellError where the program goes there, or none is."""
        return cell_edits.without_point(self, name)

    def body(self, name: str) -> Body:
        """Return the body of a name. CellError where there is none."""
        return cell_edits.body(self, name)

    def with_body(self, body: Body) -> Cell:
        """Return the cell with one body more, or with this in place of the one of its name."""
        return cell_edits.with_body(self, body)

    def without_body(self, name: str) -> Cell:
        """Return the cell without a body. CellError where there is none of that name."""
        return cell_edits.without_body(self, name)

    def with_group(self, group: Group) -> Cell:
        """Return the cell with one group more, or with this in place of the one of its name.

        Bodies of that group move with it, turn as it does, and are known as well as it is.
        """
        return with_group(self, group)

    def with_program(self, start: str, *moves: Move) -> Cell:
        """Return the cell with another program, whose weaves are then all that it has.

        Raises CellError when it cannot be meant.
        """
        return cell_edits.with_program(self, Program(start, moves))

    def tip(self, q: ArrayLike) -> Array:
        """Tool centre point in the world, m: ``(3,)`` at axes ``q (axes,)``, ``(n, 3)`` at many.

        ``q`` in rad, m on sliding axes. Raises CellError when ``q`` does not fit the axes.
        """
        return cell_edits.tip(self, q)

    def posed(self, q: ArrayLike) -> dict[str, Mesh]:
        """Return all meshes but beads in the world, m, at axes ``q (axes,)`` in rad or m, by name.

        A second thing of the same name is counted: 'nozzle', 'nozzle 2'. Raises CellError.
        """
        return {name: mesh.moved(T) for name, mesh, T in cell_edits.posed(self, q)}

    def to_trimesh(self, q: ArrayLike) -> Any:
        """Return a ``trimesh.Scene`` of everything with a shape, posed at axes ``q (axes,)``.

        World frame, m; ``q`` in rad, m on sliding axes. Geometries carry the names that results
        use. Links without a shape are not in it; a cable is all that it may fill, slack included.
        Raises CellError when ``q`` does not fit the axes.
        """
        return cell_edits.to_trimesh(self, q)

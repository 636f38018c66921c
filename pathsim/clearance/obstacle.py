"""What stands in a cell while the arm moves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from pathsim.model import Body, Cell, Mesh, Role
from pathsim.model.turning_table import StandsOn, standing_on
from pathsim.transforms import Array, apply

ARM_BASE = "arm base"
#: The arm's own parts are only told apart up to here, and have to stay this far apart, m.
OWN_CAP, OWN_MARGIN = 4e-3, 2e-3


@dataclass(frozen=True, eq=False)
class Obstacle:
    """Something that stands still. ``role`` None: the arm's base.

    ``source`` is its mesh in its own frame, which ``T_ref_mesh (4, 4)`` puts in the world.
    ``on_table``: stands on the turning table; it is there with the table at zero. ``on_tilt``:
    stands on its tilt frame, likewise. ``carrier``:
    it is a link of the arm, seen from which the links behind it move; then the "world" is the
    frame of that link. ``at_joint``: it is measured against what one joint alone moves past it,
    both without what touches by design: number of that pair (``joint_pairs.py``). ``known_to``: how
    far off its place, and off its true surface, it may be together, m. ``stands_from``: index of
    the program's move from which on it stands, 0 of all but beads; ``bead_top``: of a bead, how
    high it stands over the line of the wire's end, m.
    """

    name: str
    role: Role | None
    source: Mesh
    T_ref_mesh: Array
    on_table: bool = False
    bears: str | None = None
    carrier: int | None = None
    at_joint: int | None = None
    known_to: float = 0.0
    on_tilt: bool = False
    stands_from: int = 0
    bead_top: float = 0.0

    @property
    def stands_on(self) -> StandsOn:
        """What it stands on; the arm's own links and base count as the floor."""
        return standing_on(self.on_tilt, self.on_table)

    @property
    def is_own(self) -> bool:
        """Whether the arm or the table itself is asked about: told apart up to ``OWN_CAP``."""
        return self.carrier is not None or self.at_joint is not None

    @cached_property
    def box(self) -> Array:
        """The box ``(2, 3)`` round it, least and greatest, as it stands."""
        corners = apply(self.T_ref_mesh, self.source.corners)
        return np.array([corners.min(axis=0), corners.max(axis=0)])

    @cached_property
    def heights(self) -> tuple[float, float]:
        """Lowest and highest point of its mesh as it stands, m in the world."""
        z = self.mesh.vertices[:, 2]
        return float(z.min()), float(z.max())

    def cap_within(self, cap: float) -> float:
        """Return how far a pair with it is told apart, m: parts of the arm only where narrow."""
        return min(OWN_CAP, cap) if self.is_own else cap

    def __repr__(self) -> str:
        return f"Obstacle({self.name!r}, {self.role or 'the arm itself'})"

    @cached_property
    def mesh(self) -> Mesh:
        """Its mesh in the world."""
        return self.source.moved(self.T_ref_mesh)


def obstacles(cell: Cell) -> tuple[Obstacle, ...]:
    """All bodies, beads, and the arm's own base when it has a shape, in the world.

    The same ones for the same things, whatever is taught: what is worked out of each, as its mesh
    in the world, is worked out once.
    """
    base, place = cell.link_meshes[0], np.asarray(cell.T_world_base, float).tobytes()
    return _obstacles(tuple(cell.standing), base, place, cell.link_drawn_to(0))


@lru_cache(maxsize=8)
def _obstacles(
    standing: tuple[Body, ...], base: Mesh | None, place: bytes, off: float
) -> tuple[Obstacle, ...]:
    things = [
        Obstacle(
            b.name,
            b.role,
            b.mesh,
            b.T_world_body,
            b.on_table,
            b.bears,
            known_to=b.off_by,
            on_tilt=b.on_tilt,
            stands_from=b.stands_from,
            bead_top=b.bead_top,
        )
        for b in standing
    ]
    if base is not None:
        T_world_base = np.frombuffer(place).reshape(4, 4)
        things.append(Obstacle(ARM_BASE, None, base, T_world_base, known_to=off))
    return tuple(things)

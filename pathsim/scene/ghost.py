"""The program with a proposal, beside the one as it is: ways that come, ways that go, postures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.scene.records import PointName, SceneMesh
from pathsim.transforms import Array

#: What is so near to a new point, or to what it cures, belongs into one picture, m.
_AROUND = 0.12


@dataclass(frozen=True, eq=False)
class CureGhost:
    """What a proposal changes, to be drawn over the scene as it is.

    ``ways``: tip ways ``(n, 3)`` of the moves that come; ``gone``: of those that go. ``points``:
    new points where the tip stands; ``poses``: ``T_world_link (links, 4, 4)`` at each of the first
    of them. ``bodies``: what of the cell would stand elsewhere, there, vertices in the world.
    ``before``, ``after``, ``time``: the same numbers as in the proposal's words. ``what``: what is
    to be changed by hand, as it is no change of the program that could be written; ``after`` is
    then whole sentences.
    """

    ways: tuple[Array, ...]
    gone: tuple[Array, ...]
    points: tuple[PointName, ...]
    poses: tuple[Array, ...]
    before: str
    after: str
    time: str
    bodies: tuple[SceneMesh, ...] = ()
    what: str = ""

    def held(self, place: Array | None) -> Array:
        """Places ``(n, 3)`` that a picture of it has to hold: what is near its points.

        ``place (3,)``: of the finding that it cures. A way home is long: all of it in one picture
        would show nothing of what is cured.
        """
        middles = [point.place for point in self.points]
        middles += [place] if place is not None else []
        middles += [mesh.vertices.mean(axis=0) for mesh in self.bodies]
        ways = [*self.ways, *self.gone]
        if not middles:
            return np.concatenate(ways) if ways else np.zeros((0, 3))
        at = np.array(middles)
        near = [
            way[np.linalg.norm(way[:, None] - at, axis=2).min(axis=1) < _AROUND] for way in ways
        ]
        corners = [
            np.array([mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)]) for mesh in self.bodies
        ]
        return np.concatenate([at, *near, *corners])

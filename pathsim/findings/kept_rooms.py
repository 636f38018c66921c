"""Rooms beside seams, kept from one check of a scene to the next.

Measuring them takes most of a check, and a cell that is checked over and over with other points in
the air has the same seams each time.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pathsim.model import Cell
from pathsim.motion import MoveTrack

#: Room to the left and to the right, m, and where the lesser is, s after the start of the seam.
Room = tuple[float, float, float]


class KeptRooms:
    """What was measured for the seams of one scene; another scene finds nothing of it.

    A scene is everything that a room depends on besides the seam: arm, torch, cables, bodies,
    margins. It is told by the objects themselves, which are held here, so that none can be taken
    for another.
    """

    def __init__(self) -> None:
        self._scene: tuple[object, ...] = ()
        self._rooms: dict[tuple[object, ...], Room] = {}

    def room(
        self, cell: Cell, track: MoveTrack, part: tuple[object, ...], measure: Callable[[], Room]
    ) -> Room:
        """Return the room of a seam; ``part``: what else decides it. Times are the program's."""
        scene = _scene(cell)
        same = len(scene) == len(self._scene) and all(
            a is b for a, b in zip(scene, self._scene, strict=True)
        )
        if not same:
            self._scene = scene
            self._rooms.clear()
        # The last bits of joint values differ with the side from which a seam was come to.
        start = float(track.t[0])
        ways = (track.q, track.t - start, np.array([track.travel_seconds]))
        key = (track.move, *part, *((np.round(way, 9) + 0.0).tobytes() for way in ways))
        if key not in self._rooms:
            left, right, time = measure()
            self._rooms[key] = (left, right, time - start)
        left, right, time = self._rooms[key]
        return left, right, time + start


def _scene(cell: Cell) -> tuple[object, ...]:
    return (
        cell.arm, cell.T_world_base, cell.link_meshes, cell.torch, cell.bodies, cell.margins,
        cell.table, cell.cables,
    )  # fmt: skip

"""Moves that were laid before, by everything that decides how they are laid."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import fields, replace
from functools import lru_cache

import numpy as np

from pathsim.arm import Arm
from pathsim.model import Cell, Move, Point, TiltAxis, TurningTable
from pathsim.motion.trajectory import MoveTrack
from pathsim.transforms import Array

_MOST = 2000


class MoveCache:
    """Tracks of moves, kept from one planning to the next.

    Laying a move takes longer than measuring it. A track is found again by the arm, the move,
    where it starts and what its points were taught as; its number and start time may differ.
    """

    def __init__(self) -> None:
        self._tracks: dict[bytes, MoveTrack] = {}

    def track(self, key: bytes, index: int, move: Move, clock: float,
              lay: Callable[[], tuple[MoveTrack, bool]]) -> MoveTrack:  # fmt: skip
        """Return the track of a move that starts at ``clock`` s.

        ``lay`` makes it as it is from time 0, and says whether that may be kept.
        """
        known = self._tracks.get(key)
        if known is None:
            known, may_be_kept = lay()
            if may_be_kept:
                if len(self._tracks) >= _MOST:
                    self._tracks.clear()
                self._tracks[key] = known
        return known.at(clock, index, move)

    def clear(self) -> None:
        """Forget all of them."""
        self._tracks.clear()


def cell_key(cell: Cell, levers: Array) -> bytes:
    """Hash over all of a cell that laying a move looks at, its points left out."""
    digest = hashlib.blake2b(digest_size=20)
    tilt = None if cell.table is None else cell.table.tilt
    for owner in (cell.arm, cell.table, tilt):
        digest.update(b"" if owner is None else _bytes_of_all(owner))
    for value in (cell.T_world_base, cell.torch.T_flange_tcp, levers, cell.tip_speed,
                  cell.tip_acceleration, cell.tip_jerk, cell.override):  # fmt: skip
        digest.update(_bytes(value))
    return digest.digest()


@lru_cache(maxsize=32)
def _bytes_of_all(owner: Arm | TurningTable | TiltAxis) -> bytes:
    """Hash over all fields of an arm, a table or its tilt, which never change.

    Of a table, the tilt's own fields are not among them: it says only that it has one.
    """
    digest = hashlib.blake2b(digest_size=20)
    for one in fields(owner):
        digest.update(_bytes(getattr(owner, one.name)))
    return digest.digest()


def move_key(cell: Cell, whole: bytes, move: Move, start: str, q: Array, lost: bool,
             continuous: bool) -> bytes:  # fmt: skip
    """Hash over a move, its points, and where the arm is when it starts."""
    digest = hashlib.blake2b(whole, digest_size=20)
    digest.update(_said(move) + repr((start, lost, continuous)).encode())
    for name in (move.target, move.via):
        if name is not None:
            digest.update(_taught(cell.points[name]))
    digest.update(_bytes(q))
    return digest.digest()


@lru_cache(maxsize=1024)
def _taught(point: Point) -> bytes:
    """Return all that a point was taught as."""
    said = (point.q, point.T_base_tcp, point.held, point.posture, point.about)
    return b"".join(map(_bytes, said))


@lru_cache(maxsize=1024)
def _said(move: Move) -> bytes:
    """Return all that is asked of a move; where it stands in a file does not matter."""
    return repr(replace(move, line=None, written=None)).encode()


def _bytes(value: object) -> bytes:
    """Return a value and its kind as bytes."""
    if isinstance(value, np.ndarray):
        return f"{value.dtype.str}{value.shape}".encode() + value.tobytes()
    return repr(value).encode()

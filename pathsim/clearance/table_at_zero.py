"""Bodies on the turning table against what stands round it, once, with the table at zero."""

from __future__ import annotations

import numpy as np

from pathsim.clearance.engine import Engine, Pair, Question, Span
from pathsim.clearance.records import Clearance
from pathsim.clearance.rules import are_joined, is_table_moved, standing_things
from pathsim.model import Cell
from pathsim.motion import MoveTrack, Trajectory


def table_at_zero(
    cell: Cell, trajectory: Trajectory, engine: Engine
) -> list[tuple[Pair, Clearance]]:
    """Return how near what is on the table stands to all else, with the table at zero.

    Bodies are placed as they stand then. Nothing is asked where a move that turns the table goes
    through zero: all of them are measured there. What rests on its stand is measured at its joint
    (``joined.py``).
    """
    if cell.table is None or not trajectory.tracks:
        return []
    if any(is_table_moved(cell, track) and _meets_zero(track) for track in trajectory.tracks):
        return []
    things = [thing for thing in standing_things(cell) if not thing.on_table]
    pairs = [(p, t) for p in cell.table_pieces for t in things if not are_joined(p, t)]
    first = trajectory.tracks[0]
    q = np.repeat(first.q[:1], 2, axis=0)
    q[:, -1] = 0.0
    strain = np.zeros((1, q.shape[1]))
    track = MoveTrack(0, first.move, first.start, np.array([0.0, 1.0]), q, strain, 1.0)
    window = Span(0.0, 1.0)
    found = engine.closest_of([Question(track, *pair, window) for pair in pairs])
    return list(zip(pairs, found, strict=True))


def _meets_zero(track: MoveTrack) -> bool:
    return bool(track.q[:, -1].min() <= 0 <= track.q[:, -1].max())

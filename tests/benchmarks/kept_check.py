"""What an edit takes, and how a check grows with triangles, once meshes have been loaded.

    python -m tests.benchmarks.kept_check

CPU time of one process, kernels and trees in memory, proofs about joints on disk from a first
round. ``Session.evaluate`` of a point that is dragged, which no other move shares; and the engine,
and whole checks with nothing kept but trees, on meshes of ever finer triangles: their growth is
told as an exponent.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from pathsim.check import checked_with
from pathsim.clearance.engine_choice import SharedCache, engine_for
from pathsim.findings.kept_rooms import KeptRooms
from pathsim.motion import MoveCache
from pathsim.session import Session
from tests.benchmarks.clearance_scenes import (
    SIDES,
    eight_moves,
    eight_moves_of_own_points,
    finer,
    triangles,
    with_point_moved,
)
from tests.benchmarks.clearance_speed import Ours
from tests.benchmarks.whole_check import exponent


def spent(work: Callable[[], object]) -> float:
    """CPU seconds of some work."""
    start = time.process_time()
    work()
    return time.process_time() - start


def dragged(count: int = 150) -> None:
    """Print how long a dragged point takes to evaluate."""
    cell = finer(eight_moves_of_own_points(), SIDES["200k"])
    moved = [with_point_moved(cell, 4e-4 * (k + 1)) for k in range(count)]
    for proved in (moved[0], moved[-1]):
        Session().evaluate(proved)
    session = Session()
    session.evaluate(cell)
    took = 1e3 * np.array([spent(lambda one=one: session.evaluate(one)) for one in moved])
    print(f"a dragged point, {triangles(cell)} triangles: median {np.median(took):.2f} ms, "
          f"nine of ten within {np.percentile(took, 90):.2f}")  # fmt: skip


def growth() -> None:
    """Print times of the engine and of whole checks, and how they grow with triangles."""
    rows = []
    for side in SIDES.values():
        cell, kept, checks = finer(eight_moves(), side), SharedCache(), []
        ours = Ours(cell)
        engine_whole = min(spent(ours.run) for _ in range(30))
        for _ in range(8):
            engine = engine_for(cell, kept)
            engine.memory.answers.clear()
            engine.memory.forget_moves()
            work = (cell, engine, MoveCache(), KeptRooms(), None)
            checks.append(spent(lambda work=work: checked_with(*work)))
        rows.append((triangles(cell), engine_whole, min(checks[1:])))
        print(f"{rows[-1][0]} triangles: engine {1e3 * rows[-1][1]:.1f} ms, "
              f"whole check {1e3 * rows[-1][2]:.1f} ms", flush=True)  # fmt: skip
    for small, large in ((rows[0], rows[-1]), (rows[-2], rows[-1])):
        of = [exponent(small[k], large[k], small[0], large[0]) for k in (1, 2)]
        print(f"from {small[0]} to {large[0]}: engine {of[0]:.2f}, whole check {of[1]:.2f}")


if __name__ == "__main__":
    dragged()
    growth()

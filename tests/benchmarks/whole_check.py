"""How long a whole check takes, and where the time goes.

    python -m tests.benchmarks.whole_check [--quick] [--profile FILE] [CASE ...]

CPU time of ``pathsim.check`` in one process, kernels and libraries loaded, nothing kept: laying,
search, the rest of measuring (when pairs are near, records), findings with the room beside seams,
and placement tolerances. Cells are made by seeded numbers (``whole_scenes.py``). Counts do not
depend on the machine: questions asked, those that come near, nodes bounded, intervals asked for,
meshes made ready for python-fcl, and records of pairs made. Growth is told as an exponent.
"""

from __future__ import annotations

import argparse
import cProfile
import importlib
import math
import pstats
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from pathsim.check import check
from pathsim.clearance import engine_for, measure
from pathsim.clearance.reference import mesh_distance
from pathsim.clearance.swept.engine import FastEngine, FastMove
from pathsim.findings import room
from pathsim.model import Cell
from tests.benchmarks import whole_scenes as scenes
from tests.benchmarks.clearance_scenes import five_moves
from tests.benchmarks.whole_scenes import CASES

#: The package gives the function its module's name.
checking = importlib.import_module("pathsim.check")


class Spent:
    """CPU seconds and calls of a function while it is watched, and how many things it returned."""

    def __init__(self, owner, name):
        self.seconds, self.calls, self.made = 0.0, 0, 0
        self._owner, self._name, self._whole = owner, name, getattr(owner, name)

    def __enter__(self):
        def timed(*args, **kwargs):
            start = time.process_time()
            try:
                found = self._whole(*args, **kwargs)
                self.made += len(found) if hasattr(found, "__len__") else 0
                return found
            finally:
                self.seconds += time.process_time() - start
                self.calls += 1

        setattr(self._owner, self._name, timed)
        return self

    def __exit__(self, *_):
        setattr(self._owner, self._name, self._whole)


@dataclass
class Taken:
    """One check: milliseconds of CPU time of its parts, and counts that no machine changes."""

    parts: dict[str, float] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)

    @property
    def whole(self) -> float:
        return self.parts["whole"]


def taken(cell: Cell, counting: bool = False) -> Taken:
    """Check a cell anew and tell where the time went; records are counted when asked for."""
    engine = engine_for(cell)
    if not isinstance(engine, FastEngine):
        raise SystemExit(f"the fast engine is not ready: {engine.note}")
    with ExitStack() as watched:

        def watch(owner, name):
            return watched.enter_context(Spent(owner, name))

        laying = watch(checking, "plan_program")
        measuring = watch(checking, "measure_moves")
        search = watch(FastEngine, "min_distance")
        near = watch(FastMove, "intervals_below")
        seams = watch(checking, "seams_on_parts")
        found = watch(checking, "collect")
        said = watch(checking, "describe_seams")
        beside = watch(room, "narrowest_room")
        shapes = watch(mesh_distance.Shape, "__init__")
        records = watch(measure.PairClearance, "__init__") if counting else None
        asked = watched.enter_context(Spent(measure, "queries_of"))
        start = time.process_time()
        result = check(cell, engine=engine)
        whole = time.process_time() - start
        in_measuring = search.seconds
        counts = {
            "questions": asked.made,
            "nodes": int(engine.counts[0]),
            "intervals": near.calls,
            "fcl meshes": shapes.calls,
            "records": records.calls if records else -1,
        }
        start = time.process_time()
        _ = result.placement
        placement = time.process_time() - start
    touching = sum(p.clearance.touches for move in result.moves for p in move.pairs)
    seconds = {
        "whole": whole + placement,
        "laying": laying.seconds,
        "search": in_measuring,
        "rest": measuring.seconds - in_measuring,
        "intervals": near.seconds,
        "findings": seams.seconds + found.seconds + said.seconds,
        "room": beside.seconds,
        "placement": placement,
    }
    counts["touching"] = touching
    return Taken({name: 1e3 * value for name, value in seconds.items()}, counts)


#: What still takes a moment.
QUICK = ("gate hinge", "contacts, 40 moves", "64 cables")
#: For growth: a cell by its size, and two sizes.
GROWTH: dict[str, tuple[Callable[[int], Cell], int, int]] = {
    "moves": (lambda n: scenes.many_bodies(n, 20), 20, 80),
    "bodies": (lambda n: scenes.many_bodies(20, n), 15, 60),
    "seams": (lambda n: scenes.many_seams(n, 10), 3, 12),
    "cables": (scenes.many_cables, 16, 64),
}


def exponent(small: float, large: float, first: int, last: int) -> float:
    """Power of the size that ``large`` grew by from ``small``; nan where either is nothing."""
    return math.log(large / small) / math.log(last / first) if min(small, large) > 0 else math.nan


def growths() -> None:
    """Print how time and counts grow with the size of a cell."""
    for name, (make, first, last) in GROWTH.items():
        small, large = taken(make(first)), taken(make(last))
        said = [
            f"{part} {exponent(a, b, first, last):.2f}"
            for of in ("parts", "counts")
            for part, a, b in (
                (part, getattr(small, of)[part], getattr(large, of)[part])
                for part in getattr(small, of)
            )
        ]
        print(f"growth with {name}, {first} to {last}: {', '.join(said)}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("cases", nargs="*", help="cases, by the beginning of their names")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--growth", action="store_true")
    parser.add_argument("--profile", help="write what each function took to this file")
    given = parser.parse_args()
    names = QUICK if given.quick else tuple(CASES)
    if given.cases:
        names = tuple(n for n in CASES if any(n.startswith(case) for case in given.cases))
    taken(five_moves())  # kernels and libraries
    if not given.growth:
        head = True
        for name in names:
            cell = CASES[name]()
            for body in cell.bodies:
                _ = body.mesh.digest
            counts = taken(cell, counting=True).counts  # and trees come from the disk then
            cell = CASES[name]()
            profile = cProfile.Profile() if given.profile else None
            if profile:
                profile.enable()
            best = taken(cell)
            if profile:
                profile.disable()
                with Path(given.profile).open("a") as file:
                    file.write(f"==== {name}\n")
                    stats = pstats.Stats(profile, stream=file).sort_stats("cumulative")
                    stats.print_stats(60)
                    stats.sort_stats("tottime").print_stats(30)
            if head:
                columns = [
                    *(f"{part:>9}" for part in best.parts),
                    *(f"{c:>10}" for c in best.counts),
                ]
                print(f"{'ms of CPU time':24}", *columns)
                head = False
            parts = [f"{value:9.1f}" for value in best.parts.values()]
            print(f"{name:24}", *parts, *(f"{c:10}" for c in counts.values()), flush=True)
    if given.growth or not (given.quick or given.cases or given.profile):
        growths()


if __name__ == "__main__":
    main()

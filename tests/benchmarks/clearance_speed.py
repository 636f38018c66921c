"""How fast clearance is guaranteed, beside peers in the same process.

    python -m tests.benchmarks.clearance_speed [--quick]

One thread, tolerance 0.5 mm, cap 50 mm. Times are best of several; "whole" is knots, time
trees and search, as a check needs them. Peers, all with the same knots:

* bisection: adaptive bisection over python-fcl's exact distance (the reference engine, none of
  our kernels in it);
* sampled fcl: python-fcl's distance so often that between two samples nothing can come nearer
  by more than the tolerance; timed on some samples, times how many are needed;
* sampled trimesh: its collision manager's distance to all bodies at once, likewise;
* sampled coal: as sampled fcl, where coal is installed.

Reports ratios, counts, growth and the share of each step. Random moves, which nothing was
tuned on, stand apart.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from pathsim.clearance import ReferenceEngine
from pathsim.clearance.swept.batch import Batch
from pathsim.clearance.swept.cache import EngineCache
from pathsim.clearance.swept.engine import FastEngine
from pathsim.motion import fast_knots as fast_laying
from pathsim.motion import plan_program
from tests.benchmarks.clearance_peers import (
    CAP,
    TOLERANCE,
    bisection,
    plain_code,
    sampled_coal,
    sampled_fcl,
    sampled_trimesh,
    samples_needed,
)
from tests.benchmarks.clearance_scenes import (
    SIDES,
    eight_moves,
    eight_moves_of_own_points,
    finer,
    five_moves,
    many_moves,
    random_moves,
    scene_questions,
    triangles,
)
from tests.benchmarks.clock import Clock, best_of


class Ours:
    """The fast engine on one cell: trees of meshes are kept, everything else is done anew."""

    def __init__(self, cell):
        self.cell, self.memory = cell, EngineCache()
        self.run()  # trees of meshes, and kernels from the disk

    def forget(self):
        self.memory.answers.clear()
        self.memory.forget_moves()

    def run(self):
        self.forget()
        trajectory = plan_program(self.cell)
        engine = FastEngine(self.cell, TOLERANCE, CAP, memory=self.memory, threads=1)
        self.engine, self.trajectory = engine, trajectory
        return engine.min_distance(scene_questions(self.cell, trajectory))

    def shares(self):
        """Seconds of knots, of these the kernel with the inverse, of questions, trees, search."""
        self.forget()
        start = time.perf_counter()
        with Clock(fast_laying, "lay_knots") as kernel:
            trajectory = plan_program(self.cell)
        laid = time.perf_counter()
        engine = FastEngine(self.cell, TOLERANCE, CAP, memory=self.memory, threads=1)
        queries = scene_questions(self.cell, trajectory)
        asked = time.perf_counter()
        Batch.of(queries, engine.chains)
        treed = time.perf_counter()
        engine.min_distance(queries)
        done = time.perf_counter()
        return laid - start, kernel.seconds, asked - laid, treed - asked, done - treed


def against_peers(name, cell, rounds):
    ours = Ours(cell)
    whole = best_of(rounds, ours.run)
    shares = np.min([ours.shares() for _ in range(rounds)], axis=0)
    knots, laying_kernel, asking, trees, search = shares
    total = knots + asking + trees + search
    trajectory = ours.trajectory
    laying = best_of(3, lambda: plan_program(cell))
    tries = [bisection(cell, trajectory)[:2] for _ in range(3)]
    spent, queries = min(tries)
    needed = samples_needed(cell, trajectory)
    print(f"{name}: {triangles(cell)} triangles, {len(trajectory.tracks)} moves, "
          f"{len(trajectory.t)} knots")  # fmt: skip
    print(f"  ours {1e3 * whole:.1f} ms whole: knots {knots / total:.0%} (the inverse, by its "
          f"kernel, {laying_kernel / total:.0%}), questions "
          f"{asking / total:.0%}, time trees {trees / total:.0%}, search and answers "
          f"{search / total:.0%} ({1e3 * search:.1f} ms)")  # fmt: skip
    nodes, leaves, pairs = ours.engine.counts
    print(f"  counts: nodes {nodes}, leaves {leaves}, triangle pairs {pairs}; bisection "
          f"{queries} exact distances")  # fmt: skip
    peers = {
        "bisection": spent + laying,
        "sampled fcl": sampled_fcl(cell, trajectory, needed) + laying,
        "sampled trimesh": sampled_trimesh(cell, trajectory, needed) + laying,
        "sampled coal": sampled_coal(cell, trajectory, needed),
    }
    for peer, seconds in peers.items():
        if seconds is None:
            print(f"  {peer}: not installed")
            continue
        without = (seconds - laying) / max(search + trees + asking, 1e-9)
        print(f"  {peer}: {seconds:.2f} s, {seconds / whole:.0f} times ours; "
              f"knots left out of both {without:.0f} times")  # fmt: skip
    return whole, search


def on_random_moves(cell, count):
    """Ratio of the bisection to the fast engine's search, move by move."""
    trajectory = plan_program(cell)
    memory = EngineCache()
    ratios = []
    FastEngine(cell, TOLERANCE, CAP, memory, 1).min_distance(scene_questions(cell, trajectory))
    reference = ReferenceEngine(cell, TOLERANCE, CAP)
    queries = scene_questions(cell, trajectory)
    for question in queries:
        reference.shape(question.piece), reference.shape(question.standing)
    for track in trajectory.tracks[:count]:
        own = [q for q in queries if q.track is track]
        memory.answers.clear()
        memory.forget_moves()
        engine = FastEngine(cell, TOLERANCE, CAP, memory, 1)
        start = time.perf_counter()
        engine.min_distance(own)
        fast = time.perf_counter() - start
        with plain_code():
            measure = reference.on(track)
            start = time.perf_counter()
            for q in own:
                measure.closest(*q[1:])
            ratios.append((time.perf_counter() - start) / fast)
    print(f"random moves ({len(ratios)}), trees and search against bisection: median "
          f"{statistics.median(ratios):.0f} times, least {min(ratios):.1f}, "
          f"most {max(ratios):.0f}")  # fmt: skip


def edit_of_one_point(cell):
    """Share of a whole check that one after an edit of a point takes: two moves change."""
    from pathsim.motion import MoveCache
    from tests.benchmarks.clearance_scenes import with_point_moved

    def check(of, memory, laid):
        trajectory = plan_program(of, laid)
        FastEngine(of, TOLERANCE, CAP, memory, 1).min_distance(scene_questions(of, trajectory))

    whole, edited = [], []
    for k in range(5):
        memory, laid = EngineCache(), MoveCache()
        check(cell, memory, laid)
        memory.answers.clear()
        memory.forget_moves()
        laid.clear()
        start = time.perf_counter()
        check(cell, memory, laid)
        whole.append(time.perf_counter() - start)
        other = with_point_moved(cell, 0.01 * (k + 1))
        start = time.perf_counter()
        check(other, memory, laid)
        edited.append(time.perf_counter() - start)
    share = min(edited) / min(whole)
    print(f"an edit of one point of {len(cell.program.moves)} moves: {1e3 * min(edited):.1f} ms, "
          f"{share:.2f} of the whole")  # fmt: skip
    return share


def memory_of(cell):
    """Most memory that a process of its own takes to check a cell, MB; meshes are handed over."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "meshes.npz"
        arrays = {}
        for k, body in enumerate(cell.bodies):
            arrays[f"v{k}"], arrays[f"f{k}"] = body.mesh.vertices, body.mesh.faces
        np.savez(path, **arrays)
        run = subprocess.run([sys.executable, "-m", "tests.benchmarks.clearance_memory", str(path)],
                             capture_output=True, text=True, check=True)  # fmt: skip
    return int(run.stdout.split()[-1])


def main():
    quick = "--quick" in sys.argv
    cell = eight_moves()
    wholes = {}
    for name in ("20k",) if quick else tuple(SIDES):
        wholes[name] = against_peers(name, finer(cell, SIDES[name]), 3 if quick else 7)
    if not quick:
        growth = [b / a for a, b in zip(wholes["20k"], wholes["900k"], strict=True)]
        print(f"20k to 900k triangles: {growth[0]:.2f} times whole, {growth[1]:.2f} times search")
    middle = finer(cell, SIDES["20k" if quick else "200k"])
    against_peers("120 moves", many_moves(middle, 2 if quick else 15), 3)
    on_random_moves(random_moves(middle, 10 if quick else 60, 5), 10 if quick else 60)
    for edited in (eight_moves_of_own_points(), five_moves()):
        edit_of_one_point(finer(edited, SIDES["20k" if quick else "200k"]))
    if not quick:
        most = memory_of(finer(cell, SIDES["900k"]))
        print(
            f"900k triangles: {most} MB at most in a process of its own, python and libraries in it"
        )


if __name__ == "__main__":
    main()

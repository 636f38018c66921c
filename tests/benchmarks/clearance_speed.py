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

import contextlib
import importlib.util
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
import trimesh

from pathsim.clearance import ReferenceEngine
from pathsim.clearance.asked import questions_of
from pathsim.clearance.fast.batch import Batch
from pathsim.clearance.fast.engine import FastEngine
from pathsim.clearance.fast.memory import Memory
from pathsim.clearance.rules import own_pairs, standing_things
from pathsim.kernels.ready import ENGINE, REFERENCE
from pathsim.motion import plan_program
from tests.benchmarks.clearance_scenes import (
    SIDES,
    eight_moves,
    eight_moves_of_own_points,
    finer,
    five_moves,
    many_moves,
    random_moves,
    triangles,
)

TOLERANCE, CAP = 5e-4, 0.05
_SAMPLES = 40


def scene_questions(cell, trajectory):
    """Everything that moves against everything that stands; the arm itself stands apart."""
    return questions_of(cell, trajectory, standing_things(cell), ()).questions


def own_questions(cell, trajectory):
    return questions_of(cell, trajectory, (), own_pairs(cell)).questions


def best_of(count, work):
    times = []
    for _ in range(count):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


class Ours:
    """The fast engine on one cell: trees of meshes are kept, everything else is done anew."""

    def __init__(self, cell):
        self.cell, self.memory = cell, Memory()
        self.run()  # trees of meshes, and kernels from the disk

    def forget(self):
        self.memory.answers.clear()
        self.memory.forget_moves()

    def run(self):
        self.forget()
        trajectory = plan_program(self.cell)
        engine = FastEngine(self.cell, TOLERANCE, CAP, memory=self.memory, threads=1)
        self.engine, self.trajectory = engine, trajectory
        return engine.closest_of(scene_questions(self.cell, trajectory))

    def shares(self):
        """Seconds of knots, of questions and time trees, and of search and answers."""
        self.forget()
        start = time.perf_counter()
        trajectory = plan_program(self.cell)
        laid = time.perf_counter()
        engine = FastEngine(self.cell, TOLERANCE, CAP, memory=self.memory, threads=1)
        questions = scene_questions(self.cell, trajectory)
        asked = time.perf_counter()
        Batch.of(questions, engine.chains)
        treed = time.perf_counter()
        engine.closest_of(questions)
        done = time.perf_counter()
        return laid - start, asked - laid, treed - asked, done - treed


@contextlib.contextmanager
def plain_code():
    """Without our kernels: a peer has none, and moves the arm by numpy."""
    before = os.environ.get(ENGINE)
    os.environ[ENGINE] = REFERENCE
    try:
        yield
    finally:
        if before is None:
            del os.environ[ENGINE]
        else:
            os.environ[ENGINE] = before


def bisection(cell, trajectory):
    engine = ReferenceEngine(cell, TOLERANCE, CAP)
    questions = scene_questions(cell, trajectory)
    for question in questions:  # shapes are made before the clock starts
        engine.shape(question.piece), engine.shape(question.standing)
    with plain_code():
        start = time.perf_counter()
        found = [engine.on(q.track).closest(*q[1:]) for q in grouped(questions)]
        return time.perf_counter() - start, engine.queries, found


def grouped(questions):
    """Questions move by move: the reference engine keeps one move's poses at a time."""
    return sorted(questions, key=lambda q: q.track.index)


def samples_needed(cell, trajectory):
    """Looks for each piece and body so that a piece moves at most a tolerance in between.

    Between two looks at most ``way`` apart nothing is nearer than the nearer look less way / 2;
    for an interval of width ``TOLERANCE`` looks must be twice that apart.
    """
    engine = ReferenceEngine(cell, TOLERANCE, CAP)
    needed = defaultdict(float)
    for question in scene_questions(cell, trajectory):
        measure = engine.on(question.track)
        way = measure.chain(question.piece, question.standing).way(
            question.piece, question.window.start, question.window.end
        )
        needed[question.piece, question.standing] += way / (2 * TOLERANCE) + 1
    return needed


def sampled_fcl(cell, trajectory, needed):
    engine = ReferenceEngine(cell, TOLERANCE, CAP)
    rng = np.random.default_rng(1)
    pairs = list(needed)
    chosen = [(pairs[rng.integers(len(pairs))], rng.integers(len(trajectory.tracks)))
              for _ in range(_SAMPLES)]  # fmt: skip
    for piece, standing in pairs:
        engine.shape(piece), engine.shape(standing)
    spent = 0.0
    for (piece, standing), index in chosen:
        track = trajectory.tracks[index]
        measure = engine.on(track)
        moment = rng.uniform(track.t[0], track.t[-1])
        measure.chain(piece, standing).pose(piece, moment)
        start = time.perf_counter()
        measure.look(piece, standing, moment)
        spent += time.perf_counter() - start
    return spent / _SAMPLES * sum(needed.values())


def sampled_trimesh(cell, trajectory, needed):
    manager = trimesh.collision.CollisionManager()
    for thing in standing_things(cell):
        manager.add_object(thing.name, trimesh.Trimesh(thing.mesh.vertices, thing.mesh.faces,
                                                       process=False))  # fmt: skip
    looks = defaultdict(float)  # all bodies at once: the most that any of them needs
    for (piece, _), count in needed.items():
        looks[piece] = max(looks[piece], count)
    rng = np.random.default_rng(2)
    spent = 0.0
    pieces = list(looks)
    meshes = {p: trimesh.Trimesh(p.mesh.vertices, p.mesh.faces, process=False) for p in pieces}
    for _ in range(_SAMPLES):
        piece = pieces[rng.integers(len(pieces))]
        track = trajectory.tracks[rng.integers(len(trajectory.tracks))]
        q = track.q_at(rng.uniform(track.t[0], track.t[-1]))
        T = cell.link_poses(q)[0, piece.link]
        start = time.perf_counter()
        manager.min_distance_single(meshes[piece], transform=T)
        spent += time.perf_counter() - start
    return spent / _SAMPLES * sum(looks.values())


def sampled_coal(cell, trajectory, needed):
    if importlib.util.find_spec("coal") is None:
        return None
    import coal

    def model(mesh):
        made = coal.BVHModelOBBRSS()
        made.beginModel(len(mesh.faces), len(mesh.vertices))
        vertices = coal.StdVec_Vec3s()
        for vertex in mesh.vertices:
            vertices.append(np.asarray(vertex))
        faces = coal.StdVec_Triangle()
        for face in mesh.faces:
            faces.append(coal.Triangle(*map(int, face)))
        made.addSubModel(vertices, faces)
        made.endModel()
        return made

    rng = np.random.default_rng(3)
    models: dict = {}
    spent = 0.0
    pairs = list(needed)
    for _ in range(_SAMPLES):
        piece, standing = pairs[rng.integers(len(pairs))]
        for mesh in (piece.mesh, standing.mesh):
            if mesh not in models:
                models[mesh] = model(mesh)
        track = trajectory.tracks[rng.integers(len(trajectory.tracks))]
        T = cell.link_poses(track.q_at(rng.uniform(track.t[0], track.t[-1])))[0, piece.link]
        there = coal.Transform3s(np.ascontiguousarray(T[:3, :3]), T[:3, 3].copy())
        request, result = coal.DistanceRequest(), coal.DistanceResult()
        start = time.perf_counter()
        coal.distance(models[piece.mesh], there, models[standing.mesh], coal.Transform3s(),
                      request, result)  # fmt: skip
        spent += time.perf_counter() - start
    return spent / _SAMPLES * sum(needed.values())


def against_peers(name, cell, rounds):
    ours = Ours(cell)
    whole = best_of(rounds, ours.run)
    knots, asking, trees, search = np.min([ours.shares() for _ in range(rounds)], axis=0)
    total = knots + asking + trees + search
    trajectory = ours.trajectory
    laying = best_of(3, lambda: plan_program(cell))
    tries = [bisection(cell, trajectory)[:2] for _ in range(3)]
    spent, queries = min(tries)
    needed = samples_needed(cell, trajectory)
    print(f"{name}: {triangles(cell)} triangles, {len(trajectory.tracks)} moves, "
          f"{len(trajectory.t)} knots")  # fmt: skip
    print(f"  ours {1e3 * whole:.1f} ms whole: knots {knots / total:.0%}, questions "
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
    memory = Memory()
    ratios = []
    FastEngine(cell, TOLERANCE, CAP, memory, 1).closest_of(scene_questions(cell, trajectory))
    reference = ReferenceEngine(cell, TOLERANCE, CAP)
    questions = scene_questions(cell, trajectory)
    for question in questions:
        reference.shape(question.piece), reference.shape(question.standing)
    for track in trajectory.tracks[:count]:
        own = [q for q in questions if q.track is track]
        memory.answers.clear()
        memory.forget_moves()
        engine = FastEngine(cell, TOLERANCE, CAP, memory, 1)
        start = time.perf_counter()
        engine.closest_of(own)
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
    from pathsim.motion import LaidMoves
    from tests.benchmarks.clearance_scenes import with_point_moved

    def check(of, memory, laid):
        trajectory = plan_program(of, laid)
        FastEngine(of, TOLERANCE, CAP, memory, 1).closest_of(scene_questions(of, trajectory))

    whole, edited = [], []
    for k in range(5):
        memory, laid = Memory(), LaidMoves()
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

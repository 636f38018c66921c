"""What the fast engine is compared with: other ways to the same guarantee, with the same knots."""

from __future__ import annotations

import contextlib
import importlib.util
import os
import time
from collections import defaultdict

import numpy as np
import trimesh

from pathsim.clearance import ReferenceEngine
from pathsim.clearance.obstacle import obstacles
from pathsim.kernels.ready import ENGINE, REFERENCE
from tests.benchmarks.clearance_scenes import scene_questions

TOLERANCE, CAP = 5e-4, 0.05
_SAMPLES = 40


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
    queries = scene_questions(cell, trajectory)
    for question in queries:  # shapes are made before the clock starts
        engine.shape(question.piece), engine.shape(question.standing)
    with plain_code():
        start = time.perf_counter()
        found = [engine.on(q.track).closest(*q[1:]) for q in grouped(queries)]
        return time.perf_counter() - start, engine.queries, found


def grouped(queries):
    """Questions move by move: the reference engine keeps one move's poses at a time."""
    return sorted(queries, key=lambda q: q.track.index)


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
    for thing in obstacles(cell):
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

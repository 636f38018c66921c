"""Random chains, motions, pieces and bodies for the proof of the fast engine.

Nasty on purpose: hair-thin pins, single sheets, slivers, planar arms whose points all swing the
same way, slides, weaves to and fro and in circles, knots of very unequal length, near contact.
``PATHSIM_PROOF=full`` makes every test of the proof as long as it is meant to be at night.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

import numpy as np
import trimesh

from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.clearance.relative_chain import ChainId, ChainKind
from pathsim.clearance.swept.cache import EngineCache
from pathsim.clearance.swept.chain_motion import CarryingLinks, ChainMotion, MoveWindow
from pathsim.clearance.swept.leaf_bound import new_workspace
from pathsim.clearance.swept.packing import PackedJobs, pack_motion, piece_trees
from pathsim.clearance.swept.records import Job, Pair
from pathsim.model import Mesh, Piece, Role
from pathsim.model.linkage import Linkage
from pathsim.transforms import exp_rotation, inverse, pose
from tests.builders import ball, box, needle, sheet


def how_many(in_ci: int, at_night: int) -> int:
    return at_night if os.environ.get("PATHSIM_PROOF") == "full" else in_ci


@dataclass
class Case:
    """A pair on one stretch: as the engine is asked, and as an oracle places it."""

    linkage: Linkage
    piece: Piece
    standing: Obstacle
    q: np.ndarray
    times: np.ndarray

    def __post_init__(self):
        stroke = np.abs(self.q).max(axis=0) * self.linkage.prismatic
        self.links = CarryingLinks.of(self.linkage, [self.piece], stroke)
        joints = np.ascontiguousarray(self.linkage.joints(self.q))
        self.part = MoveWindow(
            ChainId(ChainKind.ARM_IN_WORLD),
            ChainMotion.of(self.links, joints, self.times),
            0.0,
            b"",
        )
        self.memory = EngineCache()
        self.trees = piece_trees([self.piece], self.memory)
        self.whole = pack_motion([self.part.course], [self.piece.link])
        self.body = self.memory.box_tree(self.standing.source)
        self.counts = np.zeros(3, np.int64)

    @property
    def to_body(self) -> np.ndarray:
        return np.ascontiguousarray(inverse(self.standing.T_ref_mesh)[:3].reshape(1, 12))

    def jobs(self) -> PackedJobs:
        """The one job there is, ``(1, ...)``."""
        rows, references = self.whole.jobs(self.trees.root)
        return PackedJobs(rows[0], references[0])

    def pair(self) -> Pair:
        """What the kernels are given, for tests that call them one by one."""
        (row,), (reference,) = self.jobs()
        job = Job(*map(int, row), tuple(map(float, reference)))
        return Pair(
            self.body,
            self.trees.tree,
            self.links.chain,
            self.whole.motion,
            job,
            self.to_body,
        )

    def workspace(self):
        return new_workspace(self.counts)

    def link_poses(self, times) -> np.ndarray:
        """Poses of the piece's link in the chain's frame, joints interpolated."""
        q = np.stack([np.interp(times, self.times, column) for column in self.q.T], axis=1)
        return self.linkage.link_poses(q)[:, self.piece.link - 1]

    def distances(self, times, mesh=None) -> np.ndarray:
        """Exact distances by python-fcl, the piece (or a part of it) placed in the world."""
        moving, still = Shape(mesh or self.piece.mesh), Shape(self.standing.mesh)
        values = []
        for T in self.link_poses(times):
            moving.place(T)
            values.append(moving.distance(still)[0])
        return np.array(values)


def random_case(rng, sharp: bool = False) -> Case:
    """A random pair; ``sharp``: a planar arm stretched out, knots far apart."""
    linkage = planar_linkage(rng) if sharp else random_linkage(rng)
    q, times = random_knots(rng, linkage)
    piece = Piece("piece", len(linkage.fixed), random_mesh(rng), is_torch=True)
    when = rng.choice(times)
    T = linkage.link_poses(np.array([[np.interp(when, times, c) for c in q.T]]))[0, -1]
    near = T[:3, :3] @ piece.mesh.vertices[rng.integers(len(piece.mesh.vertices))] + T[:3, 3]
    away = rng.normal(size=3)
    away *= rng.choice([0.0, 0.001, 0.01, 0.04, 0.08]) / np.linalg.norm(away)
    mesh = random_mesh(rng)
    R = exp_rotation(rng.normal(size=3))
    anchor = mesh.vertices[rng.integers(len(mesh.vertices))]
    standing = Obstacle("body", Role.OTHER, mesh, pose(R, near + away - R @ anchor))
    return Case(linkage, piece, standing, q, times)


def random_linkage(rng) -> Linkage:
    k = int(rng.integers(1, 6))
    fixed = np.stack([pose(exp_rotation(rng.normal(size=3)), rng.normal(0, 0.3, 3))
                      for _ in range(k)])  # fmt: skip
    ends = np.stack([pose(exp_rotation(rng.normal(size=3)), rng.normal(0, 0.1, 3))
                     for _ in range(k)])  # fmt: skip
    slides = rng.random(k) < 0.2
    return Linkage(fixed, ends, slides, tuple(range(k)), rng.choice([-1.0, 1.0], k), 0)


def planar_linkage(rng) -> Linkage:
    """All axes parallel and in one line: every bound on the motion is reached, or nearly."""
    k = int(rng.integers(1, 5))
    fixed = np.stack([pose(np.eye(3), [rng.uniform(0.2, 0.6), 0, 0]) for _ in range(k)])
    return Linkage(fixed, np.stack([np.eye(4)] * k), np.zeros(k, bool), tuple(range(k)),
                   np.ones(k), 0)  # fmt: skip


def random_knots(rng, linkage) -> tuple[np.ndarray, np.ndarray]:
    k, n = len(linkage.columns), int(rng.choice([2, 3, 5, 12, 40]))
    times = np.concatenate([[0.0], np.cumsum(rng.exponential(0.1, n - 1) + 1e-4)])
    s = (times / times[-1])[:, None]
    size = rng.choice([0.02, 0.2, 1.0])
    q = rng.normal(0, 1.0, k) + s * rng.normal(0, size, k)
    q[:, linkage.prismatic] *= 0.3
    kind = rng.integers(4)
    if kind == 1:  # to and fro
        q = q + 0.02 * np.sin(40 * s) * rng.normal(size=k)
    elif kind == 2:  # in circles
        q = q + 0.02 * (np.sin(30 * s) * rng.normal(size=k) + np.cos(30 * s) * rng.normal(size=k))
    elif kind == 3:  # anyhow
        q = q + rng.normal(0, 0.02, q.shape)
    return q, times


def random_mesh(rng) -> Mesh:
    kind = rng.integers(6)
    at = rng.normal(0, 0.05, 3)
    if kind == 0:
        return box(rng.uniform(0.01, 0.2, 3), at)
    if kind == 1:
        return needle(at, at + rng.normal(0, 0.1, 3))
    if kind == 2:
        u, v = rng.normal(0, 0.1, (2, 3))
        return sheet([at, at + u, at + u + v, at + v])
    if kind == 3:
        return ball(rng.uniform(0.01, 0.08), at, 1)
    if kind == 4:  # slivers
        rod = trimesh.creation.cylinder(rng.uniform(0.003, 0.02), rng.uniform(0.05, 0.3),
                                        sections=12)  # fmt: skip
        return Mesh(rod.vertices + at, rod.faces)
    soup = rng.normal(0, 0.05, (6, 3, 3)) + at
    return Mesh(soup.reshape(-1, 3), np.arange(18).reshape(6, 3))

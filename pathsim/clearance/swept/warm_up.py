"""Compiles all kernels once: ``python -m pathsim.clearance.swept.warm_up``."""

from __future__ import annotations

import contextlib
import os

import numpy as np

from pathsim.arm.branch_kernel import branch_misses
from pathsim.arm.forward import by_kernel as frames_by_kernel
from pathsim.arm.forward import last_by_kernel
from pathsim.arm.wrist_inverse import BRANCHES, WristGeometry, by_kernel
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.swept.cache import EngineCache
from pathsim.clearance.swept.chain_motion import CarryingLinks, ChainMotion, to_body
from pathsim.clearance.swept.jobs import intervals_of, search_group
from pathsim.clearance.swept.knots_kernel import knots_of_stretch
from pathsim.clearance.swept.packing import PackedJobs, pack_motion, piece_trees
from pathsim.clearance.swept.records import QueryLimits
from pathsim.geometry.tree_distance import distances, first_nearer
from pathsim.kernels.cache_folder import kernels_folder
from pathsim.kernels.preparing import finish_preparing
from pathsim.kernels.ready import set_ready_mark
from pathsim.kernels.sealed import NOT_KEPT
from pathsim.kernels.sources import sources_hash
from pathsim.model import Mesh, Piece, Role
from pathsim.model.linkage import Linkage
from pathsim.motion.ideal_kernel import SPEED, Ideal, fill_flanges
from pathsim.motion.knots_kernel import lay_knots
from pathsim.motion.line_kernel import lay_line
from pathsim.motion.speed_kernel import fill_speeds
from pathsim.motion.track_kernel import first_far
from pathsim.motion.two_ways_kernel import NUMBERS, mark_near
from pathsim.transforms import Array, pose


def prepare() -> bool:
    """Compile every kernel by asking two small questions; tell whether it is kept on disk."""
    key = sources_hash()
    folder = None if key is None else kernels_folder(key)
    ask_small_questions()
    solve_a_small_arm()
    if folder is None:
        return False
    if NOT_KEPT:
        return False
    try:
        set_ready_mark(folder)
    except OSError:
        return False
    return True


def ask_small_questions() -> float:
    """Measure a turning tetrahedron against another one, by all kernels; return its clearance."""
    corners = np.array([[0.0, 0.0, 0.0], [0.1, 0.0, 0.0], [0.0, 0.1, 0.0], [0.0, 0.0, 0.1]])
    mesh = Mesh(corners, np.array([[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]]))
    piece = Piece("small piece", 1, mesh, is_torch=False)
    standing = Obstacle("small body", Role.OTHER, mesh, pose(np.eye(3), [0.2, 0.0, 0.0]))
    slides = np.zeros(1, dtype=bool)
    linkage = Linkage(np.eye(4)[None], np.eye(4)[None], slides, (0,), np.ones(1), 0)
    links = CarryingLinks.of(linkage, [piece], np.zeros(1))
    memory = EngineCache()
    course = ChainMotion.of(links, np.array([[0.0], [0.1], [0.3]]), np.array([0.0, 1.0, 2.0]))
    knots_of_stretch(course.times, course.q, 0.5, 1.5, False, 1e9, 0.1, 1e-12)
    whole, trees = pack_motion([course], [1]), piece_trees([piece], memory)
    assert course.reach.shape == (1, 6)  # noqa: S101 - by its kernel
    there, (rows, references) = to_body(standing), whole.jobs(trees.root)
    counts = np.zeros(3, np.int64)
    body = memory.box_tree(mesh)
    jobs, asked = PackedJobs(rows[0], references[0]), QueryLimits(5e-4, 0.05)
    found = search_group(body, there, trees, whole, jobs, asked, counts)
    intervals_of(body, there, piece, whole, trees, 0.2, counts)
    distances(memory.sphere_tree(mesh), body, there, 1.0, 0.0)
    first_nearer(memory.sphere_tree(mesh), body, there, 1.0)
    # In its box: one that its triangles wind round, and one that rays must tell of.
    points, solid = np.array([[0.01, 0.01, 0.01], [0.09, 0.09, 0.09]]), memory.solid(mesh)
    for k in range(2):
        solid.may_hold(np.eye(4), points[k:], back=False)
        solid.holds(points[k:])
    return float(found[0, 0])


def solve_a_small_arm() -> Array:
    """Move and solve an arm with a spherical wrist by the kernels; return all branches."""
    axes = np.array([[0.0, 0, 1], [0, 1, 0], [0, 1, 0], [0, 0, 1], [0, 1, 0], [0, 0, 1]])
    up, nowhere = np.array([0.0, 0.0, 0.4]), np.zeros(3)
    geometry = WristGeometry(axes, nowhere, nowhere, up, up, nowhere, np.eye(3))
    for frames in (frames_by_kernel, last_by_kernel):
        frames(np.eye(4)[None], np.zeros((1, 1)), np.zeros(1, dtype=bool))
    lay_a_small_move(geometry)
    return by_kernel(geometry, pose(np.eye(3), [[0.3, 0.1, 0.4]]), range(BRANCHES))[0]


def lay_a_small_move(geometry: WristGeometry) -> None:
    """Lay knots of a straight move of a second and 0.1 m by the kernel."""
    pieces, turns = np.zeros((1, 7)), np.zeros((1, 3, 12))
    pieces[0, SPEED] = 1.0
    frames = np.tile(np.eye(4)[:3].reshape(12), (5, 1))
    turns[0, 0] = frames[0]
    way = np.array([[0.3, 0.1, 0.4], [0.0, 0.1, 0.0], [0.0, 0.0, 0.0]])
    ideal = Ideal(
        pieces, turns, np.array([[0.0, 1.0, 1.0]]), way, (0.1, 0.0), np.zeros(5),
        np.zeros((2, 7)), frames, np.zeros(0, np.int64), np.ones(1), np.zeros((1, 0, 4)),
        -1, -1, -1,
        *geometry.for_kernel, np.zeros(1, np.int64), 0,
    )  # fmt: skip
    T = np.zeros((2, 1, 4, 4))
    fill_flanges(ideal, np.zeros(1), np.zeros((1, 0)), np.zeros((5, 12)), T[0], T[1])
    t, q, _ = lay_knots(
        ideal, np.array([0.0, 1.0]), np.zeros(6), np.ones(6), 1.0, 10.0, 1e-3, 4
    )  # fmt: skip
    lay_line(
        pieces[:, :5].copy(), np.array([0.0, 1.0]), np.ones(1), 1.0, 1.0, q[0].copy(), q[0].copy()
    )
    chain = Linkage(np.eye(4)[None], np.eye(4)[None], np.zeros(1, dtype=bool), (0,), np.ones(1), 0)
    first_far(*chain.for_tip(np.ones(3)), t, q, 0.0, 0.0, 0.1, 2, 1.0)
    fill_speeds(t, q, np.ones(6), np.empty((len(t) - 1, 6)), np.empty(len(t)))
    mark_near(np.ones(NUMBERS), q, 0, 0.1, 0.1, np.empty(len(q), dtype=bool))
    branch_misses(
        *geometry.for_kernel, np.arange(BRANCHES, dtype=np.int64), np.eye(4)[None], q[0].copy(),
        np.empty((1, BRANCHES, 6)), np.empty((1, BRANCHES), dtype=bool), np.empty(BRANCHES),
    )  # fmt: skip


if __name__ == "__main__":
    with contextlib.suppress(OSError, AttributeError):
        os.nice(10)  # the check that waits for nobody goes first
    finish_preparing(prepare())

"""What the kernels are given: plain tuples of arrays."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pathsim.geometry.bvh import BoxTree, SphereTree
from pathsim.transforms import Array, IntArray


class Chain(NamedTuple):
    """A linkage for the kernels: ``fixed``, ``ends`` ``(k, 12)``, ``slides (k,)``."""

    fixed: Array
    ends: Array
    slides: NDArray[np.bool_]


class Motion(NamedTuple):
    """Stretches of knots with their time trees, one behind the other (``motion_bound.py``).

    ``whole``, ``numbers``: nodes. ``poses``, ``bends``, ``ways``: one row a knot and link.
    ``q``, ``times``: one row a knot. ``references (r, 3)``.
    """

    whole: IntArray
    numbers: Array
    poses: Array
    bends: Array
    ways: Array
    q: Array
    times: Array


class Job(NamedTuple):
    """One pair on one stretch. Rows of other arrays at which its own part begins.

    ``sphere``: root of the piece; ``node``: root of the time tree; ``pose``: first row of
    poses, bends and ways; ``knot``: first row of q and times; ``own``: link of the chain, from
    1; ``reference (3,)`` of the time tree.
    """

    sphere: int
    node: int
    pose: int
    knot: int
    own: int
    reference: tuple[float, float, float]


class QueryLimits(NamedTuple):
    """Width of intervals, and "farther than this is enough", both m (path error included)."""

    tolerance: float
    cap: float


class Pair(NamedTuple):
    """All that is known of one pair on one stretch.

    ``to_body (1, 12)``: pose that takes the chain's frame to the body's.
    """

    tree: BoxTree
    piece: SphereTree
    chain: Chain
    motion: Motion
    job: Job
    to_body: Array


class Workspace(NamedTuple):
    """Room to work in.

    ``store (sweep.ROWS, 12)``: a sweep; ``points``, ``outline``: a leaf's corners;
    ``lines`` of a pair of triangles; ``found (4,)``: what a leaf found; ``guess (3,)``: the
    last direction that served; ``nodes (4, STACK)``, ``gaps (STACK,)``: what
    is still to be looked at, one row for each kind of tree; ``counts (3,)``: nodes bounded,
    leaves opened, triangle pairs looked at.
    """

    store: Array
    points: Array
    outline: Array
    lines: Array
    found: Array
    guess: Array
    nodes: IntArray
    gaps: Array
    counts: IntArray

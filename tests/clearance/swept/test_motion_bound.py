"""The bound tree over time: every point stays in the set that its node names."""

import numpy as np

from pathsim.clearance.swept.link_pose import link_pose
from pathsim.clearance.swept.motion_bound import (
    BALL,
    EARLY,
    LATE,
    OFFSET,
    ROTATION_BALL,
    SLAB_1,
    SLAB_2,
    A,
    B,
    bend,
    spectral,
)
from tests.clearance.swept.cases import how_many, random_case


def share_outside(case, node, points, rng):
    """Largest part of a node's ball that points need at random moments; at most 1 if it holds.

    The set of ``motion_bound.py`` is written out anew here: the residual less what the slab takes.
    """
    motion = case.whole.motion
    a, b = motion.whole[node, A], motion.whole[node, B]
    numbers = motion.numbers[node]
    ends = motion.poses[[a, b]].reshape(2, 3, 4)
    times = np.sort(rng.uniform(motion.times[a], motion.times[b], 12))
    times = np.concatenate([times, motion.times[a : b + 1][:40]])
    s = ((times - motion.times[a]) / (motion.times[b] - motion.times[a]))[:, None, None]
    T = case.link_poses(times)
    there = np.einsum("tij,pj->tpi", T[:, :3, :3], points) + T[:, None, :3, 3]
    start, end = (np.einsum("ij,pj->pi", M[:, :3], points) + M[:, 3] for M in ends)
    residual = there - (1 - s) * start - s * end - numbers[OFFSET : OFFSET + 3]
    for k in (SLAB_1, SLAB_2):
        w = numbers[k : k + 3]
        size = np.linalg.norm(w)
        if size > 0:
            along = residual @ (w / size)
            residual = residual - np.clip(along, -size, size)[..., None] * (w / size)
    reference = case.links.references[0]
    room = numbers[BALL] + numbers[ROTATION_BALL] * np.linalg.norm(points - reference, axis=1)
    left = np.linalg.norm(residual, axis=-1)
    return float((left / (room + 1e-12)).max())


def test_every_point_stays_within_its_nodes():
    rng = np.random.default_rng(11)
    tightest, checks, goal = 0.0, 0, how_many(1500, 20000)
    while checks < goal:
        case = random_case(rng, sharp=checks % 3 == 0)
        vertices = case.piece.mesh.vertices
        points = vertices[rng.integers(len(vertices), size=6)]
        for node in rng.permutation(len(case.whole.motion.whole))[:12]:
            share = share_outside(case, node, points, rng)
            assert share <= 1 + 1e-6, (checks, node)
            tightest = max(tightest, share)
            checks += 1
    assert tightest > 0.95  # the bound is no looser than it must be


def test_bend_bound_is_reached_by_a_straight_planar_arm():
    """Points of a stretched-out planar arm: ``|c''| = (w1 + w2)^2 r`` and so on, exactly."""
    rng = np.random.default_rng(3)
    ratios = []
    for _ in range(200):
        case = random_case(rng, sharp=True)
        k = len(case.linkage.columns)
        w = rng.uniform(0.05, 0.5, k)
        lengths = case.linkage.fixed[1:, 0, 3]
        # All joints at zero: the arm lies along x; lever of joint i is what follows it.
        tip = 0.3
        levers = np.array([lengths[i:].sum() + tip for i in range(k)])
        angles = np.cumsum(w)
        # c'' of sum of links: the link behind joint i turns by (w1 + .. + wi) per unit of s.
        true = float((angles[:-1] ** 2 * lengths).sum() + angles[-1] ** 2 * tip)
        ratios.append(true / bend(np.zeros(k), w, levers))
    assert max(ratios) <= 1 + 1e-9
    assert min(ratios) > 1 - 1e-9


def test_spectral_norm_is_bounded_closely():
    rng = np.random.default_rng(5)
    for _ in range(500):
        m = rng.normal(size=(3, 3)) * rng.choice([1e-6, 1.0])
        if rng.random() < 0.3:
            m[:, 2] = 0.0
        true = np.linalg.norm(m, 2)
        assert true * (1 - 1e-12) <= spectral(m) <= 1.3 * true


def test_poses_of_links_against_the_chain():
    rng = np.random.default_rng(6)
    for _ in range(100):
        case = random_case(rng)
        chain, q = case.links.chain, case.q[0] * case.linkage.signs
        out = np.zeros((2, 12))
        for own in range(1, len(case.linkage.fixed) + 1):
            link_pose(chain.fixed, chain.ends, chain.slides, own, q[None], 0, 0.0, out, 0, 1)
            expected = case.linkage.link_poses(case.q[:1])[0, own - 1]
            assert np.allclose(out[0].reshape(3, 4), expected[:3], atol=1e-12)


def test_nodes_cover_every_segment_once():
    rng = np.random.default_rng(7)
    for _ in range(20):
        whole = random_case(rng).whole.motion.whole
        n = int(whole[0, B]) + 1
        assert whole[0, A] == 0 and len(whole) == 2 * n - 3
        leaves = sorted((int(a), int(b)) for a, b, early, _ in whole if early == 0)
        assert leaves == [(k, k + 1) for k in range(n - 1)]
        for node in np.flatnonzero(whole[:, EARLY] > 0):
            a, b = whole[node, [A, B]]
            early, late = node + whole[node, [EARLY, LATE]]
            assert whole[early, A] == a and whole[late, B] == b
            assert whole[early, B] == whole[late, A]
            assert LATE == EARLY + 1

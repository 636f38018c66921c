"""Looks at postures against the reference engine's distances, seen from what stands."""

from pathlib import Path

import numpy as np
import pytest

from pathsim import Session, load_cell
from pathsim.advice.edges import EdgeProver
from pathsim.advice.posture_looks import AirPairs, PostureLooks
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.contact_rules import obstacles
from pathsim.clearance.relative_chain import frame_of
from pathsim.transforms import inverse

SAMPLES = Path(__file__).parents[2] / "sample_cells"
CAP = 0.05


@pytest.mark.parametrize("name", ["gate_hinge", "turned_collar", "tilted_pipe"])
def test_looks_are_the_distances(name):
    """Of what stands in the world, on the tilt frame and on the table, each at its place then."""
    cell, session, near = load_cell(SAMPLES / name), Session(), set()
    q = np.concatenate([track.q[::8] for track in session.plan(cell).tracks])[::3]
    looks = PostureLooks(cell, session.engine(cell), q)
    exact = ReferenceEngine(cell)
    for piece in (p for p in cell.arm_pieces if p.is_torch):
        for thing in obstacles(cell):
            T = np.stack([inverse(frame_of(cell, thing, one)) for one in q])
            true = exact.distances(piece, thing, T @ cell.link_poses(q)[:, piece.link], CAP)
            every = np.arange(len(q))
            seen = looks.least((piece, thing), CAP, every, 0.0)
            assert seen == pytest.approx(np.minimum(true, CAP), abs=1e-9)
            need = 0.02
            assert (looks.all_off(AirPairs([(piece, thing)], [need]))[0] == (true >= need)).all()
            if true.min() < CAP:
                near.add(thing.stands_on)
    assert near >= set(cell.frames[-1:])


def test_a_move_that_looks_too_near_is_too_near_somewhere():
    """And one that keeps more than all margins throughout is never stopped by a look."""
    cell, session = load_cell(SAMPLES / "gate_hinge"), Session()
    prover, exact = EdgeProver(cell, session, 0.25, 0.1), ReferenceEngine(cell)
    looks = prover._air
    qs = np.concatenate([track.q[[0, -1]] for track in session.plan(cell).tracks])
    rng = np.random.default_rng(3)
    ends = [(qs[k] + rng.uniform(-0.4, 0.4, 6), qs[n] + rng.uniform(-0.4, 0.4, 6))
            for k, n in rng.integers(len(qs), size=(10, 2))]  # fmt: skip
    is_off = prover.look_along(ends, 0.0)
    spare = []
    for a, b in ends:
        along = a + np.linspace(0, 1, 55)[:, None] * (b - a)
        links = cell.link_poses(along)
        left = np.inf if (cell.axes.room(along) >= -1e-9).all() else -1.0
        for (piece, thing), margin in zip(looks.pairs.pairs, looks.pairs.asked, strict=True):
            T = inverse(frame_of(cell, thing, a))  # no table here: it stays where it is
            true = exact.distances(piece, thing, T @ links[:, piece.link], 0.05)
            left = min(left, float(true.min()) - margin)
        spare.append(left)
    assert not (~is_off & (np.array(spare) >= 1e-6)).any()
    assert 1 < is_off.sum() < len(ends) - 1
    assert prover.look_along(ends, 1.0).sum() == 0


def test_a_pair_that_is_asked_about_twice_counts_with_the_larger_margin():
    cell = load_cell(SAMPLES / "gate_hinge")
    pair = (cell.arm_pieces[0], obstacles(cell)[0])
    pairs = AirPairs([pair, pair], [0.01, 0.02])
    assert pairs.pairs == [pair] and pairs.asked.tolist() == [0.02]

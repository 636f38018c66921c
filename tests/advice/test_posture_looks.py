"""Looks at postures against the reference engine's distances, seen from what stands."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim import Session, load_cell
from pathsim.advice.edges import Edge, EdgeProver
from pathsim.advice.posture_looks import TURN, AirLooks, AirPairs, PostureLooks
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.contact_rules import pairs_to_measure
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.relative_chain import frame_of
from pathsim.model import Body, Role
from pathsim.transforms import frozen, inverse, translation
from tests.builders import box

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


def _random_edges(cell, session, count):
    """Joint moves from and to anywhere near the program, and from and to its welds."""
    tracks = session.plan(cell).tracks
    seam = next(k for k, track in enumerate(tracks) if track.move.arc_on)
    weld_end, move = tracks[seam].q[-1], tracks[seam].move
    qs = np.concatenate([track.q[[0, -1]] for track in tracks])
    rng = np.random.default_rng(11)
    ends = [(qs[k] + rng.uniform(-0.3, 0.3, 6), qs[n] + rng.uniform(-0.3, 0.3, 6))
            for k, n in rng.integers(len(qs), size=(count, 2))]  # fmt: skip
    air = [Edge(a, b) for a, b in ends]
    return [*air, *(Edge(weld_end, b, leaves=move) for _, b in ends)]


def test_a_look_only_discards_and_never_approves(monkeypatch):
    """Looks that see nothing at all leave every verdict as it is: the proof alone approves."""
    cell, session = load_cell(SAMPLES / "gate_hinge"), Session()
    edges = _random_edges(cell, session, 16)
    honest = EdgeProver(cell, session, 0.25, 0.1).spare(edges)
    seen = EdgeProver(cell, session, 0.25, 0.1).look_at(edges)
    assert 2 < (honest >= 0).sum() < len(edges) - 2 and not seen.all()
    assert seen[honest >= 0].all()
    with monkeypatch.context() as blind:
        blind.setattr(AirLooks, "_look", lambda _s, _q, m, _n: np.ones(m.max(initial=-1) + 1, bool))
        blind.setattr(PostureLooks, "least", lambda _s, _p, cap, at, _e: np.full(len(at), cap))
        prover = EdgeProver(cell, session, 0.25, 0.1)
        assert prover.look_at(edges).all()
        assert ((prover.spare(edges) >= 0) == (honest >= 0)).all()
    with monkeypatch.context() as wild:
        wild.setattr(AirLooks, "moves", lambda _s, ends, *_: np.zeros(len(ends), bool))
        assert (EdgeProver(cell, session, 0.25, 0.1).spare(edges) == -np.inf).all()


def test_looks_leave_out_no_pair_that_a_check_measures():
    cell, session = load_cell(SAMPLES / "gate_hinge"), Session()
    track = session.plan(cell).tracks[0]
    looked = EdgeProver(cell, session, 0.25, 0.1)._air.pairs.pairs
    measured = list(pairs_to_measure(cell, track, obstacles(cell)))
    assert {(p.name, t.name) for p, t in looked} == {(p.name, t.name) for p, t in measured}


def _with_cube(cell, q, size=0.004):
    """The cell with a small cube right at the tip at axes ``q``."""
    tip = cell.tips(q[None])[0]
    cube = Body("cube", Role.OTHER, box((size, size, size)), frozen(translation(tip)))
    return replace(cell, bodies=(*cell.bodies, cube))


def test_a_move_is_looked_at_from_one_end_to_the_other_and_no_farther():
    """A cube at the tip at any look is seen, in both rounds; one beyond the ends is not."""
    cell = load_cell(SAMPLES / "gate_hinge")
    a = cell.points["home"].q.copy()
    b = a + np.array([0.6, 0.0, 0.0, 0.0, 0.0, 0.0])
    parts = round(0.6 / TURN)
    for share in np.linspace(0.0, 1.0, parts + 1):
        there = _with_cube(cell, a + share * (b - a))
        assert not EdgeProver(there, Session(), 0.25, 0.1).look_along([(a, b)], 0.0)[0], share
    for share in (-0.25, 1.25):
        there = _with_cube(cell, a + share * (b - a))
        assert EdgeProver(there, Session(), 0.25, 0.1).look_along([(a, b)], 0.0)[0], share


def test_by_a_weld_nothing_is_looked_at_and_beyond_it_all_is():
    """There other margins hold: what is nearer than the air's may be clear."""
    cell = load_cell(SAMPLES / "gate_hinge")
    q, far = cell.points["weld end"].q, cell.points["retract"].q
    seam = next(move for move in cell.program.moves if move.arc_on)
    prover = EdgeProver(cell, Session(), 0.25, 0.1)
    near = q + 0.05 * (far - q)  # the tip is a few mm off the weld, and the nozzle near the part
    assert not prover.look_at([Edge(q, near)])[0]
    assert prover.look_at([Edge(q, near, leaves=seam)])[0]
    assert prover.look_at([Edge(near, q, comes=seam)])[0]
    there = EdgeProver(_with_cube(cell, far), Session(), 0.25, 0.1)
    for edge in (Edge(q, far, leaves=seam), Edge(far, q, comes=seam)):
        assert prover.look_at([edge])[0]
        assert not there.look_at([edge])[0]

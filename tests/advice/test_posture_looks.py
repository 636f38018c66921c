"""Looks at postures against the reference engine's distances, seen from what stands."""

from pathlib import Path

import numpy as np
import pytest

from pathsim import Session, load_cell
from pathsim.advice.posture_looks import PostureLooks
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
            assert (looks.all_off([(piece, thing)], [need]) == (true >= need)).all()
            if true.min() < CAP:
                near.add(thing.stands_on)
    assert near >= set(cell.frames[-1:])

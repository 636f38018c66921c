"""The arm and its torch against the arm itself."""

import fcl
import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.joint_pairs import own_pairs
from pathsim.clearance.obstacle import OWN_CAP, OWN_MARGIN
from pathsim.clearance.queries import queries_of
from pathsim.clearance.swept.engine import FastEngine
from pathsim.findings import Level
from pathsim.motion import plan_program
from tests.builders import rail_arm
from tests.clearance.folding_arm import LINKS, folding
from tests.clearance.oracle import _object


def dense_own(c, track, piece, held, count=200):
    """Distances of two parts of the arm by python-fcl, both placed in the world."""
    moving, still = _object(piece.mesh), _object(held.source)
    values = []
    for time in np.linspace(track.t[0], track.t[-1], count):
        poses = c.link_poses(track.q_at(time))[0]
        for shape, link in ((moving, piece.link), (still, held.carrier)):
            shape.setTransform(fcl.Transform(poses[link][:3, :3], poses[link][:3, 3]))
        values.append(max(fcl.distance(moving, still), 0.0))
    return np.array(values)


@pytest.mark.parametrize("kind", [FastEngine, ReferenceEngine])
def test_own_pairs_against_dense_sampling(kind):
    rng = np.random.default_rng(3)
    told_apart = 0
    for k in range(40):
        arm = rail_arm() if k % 4 == 0 else None
        links = (None, *LINKS) if arm else LINKS
        q = rng.uniform(-2.5, 2.5, 6)
        c = folding(q, arm, links)
        trajectory = plan_program(c)
        asked = queries_of(c, trajectory, (), own_pairs(c))
        found = kind(c).min_distance(asked.queries)
        assert len(found) == 8  # link 1 and 2 with 4, neck, wire; 4 with neck and wire
        for one, clearance in zip(asked, found, strict=True):
            track, piece, held, _ = one.question
            seen = dense_own(c, track, piece, held)
            assert seen.min() >= clearance.lower - 1e-9 or clearance.is_inside
            if not clearance.is_capped:
                told_apart += 1
                assert clearance.touches or clearance.upper <= seen.min() + 1e-3
            else:
                assert seen.min() >= OWN_CAP - 5e-4 - 1e-9
    assert told_apart >= 3


def test_an_arm_that_folds_onto_itself_stops():
    c = folding([0.3, 0.1, 2.6, 0.3, 0.9, 0.4])
    result = check(c)
    contacts = [f for f in result.findings if f.kind == "contact"]
    assert contacts and contacts[0].level is Level.STOP
    assert {f.body for f in contacts} <= {"link 1", "link 2", "link 4"}
    own = result.moves[0].own
    assert any(pair.clearance.touches for pair in own)
    assert result.worst.clearance.touches


def test_an_arm_that_keeps_away_from_itself_says_nothing():
    result = check(folding([0.4, 0.1, 0.2, 0.3, 0.9, 0.4]))
    assert not [f for f in result.findings if f.kind in ("contact", "near-hit")]
    assert all(pair.clearance.lower >= OWN_MARGIN for pair in result.moves[0].own)
    assert not any("against itself" in item.what for item in result.left_out)


def test_neighbours_are_left_out_and_it_is_said():
    c = folding([0.4, 0.1, 0.2, 0.3, 0.9, 0.4])
    pairs = {(piece.name, held.name) for piece, held in own_pairs(c)}
    assert ("link 2", "link 1") not in pairs
    assert ("neck", "link 4") in pairs
    assert any("neighbouring links" in item.what for item in check(c).left_out)

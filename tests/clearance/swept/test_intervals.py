"""When a pair is near, against closed forms and dense sampling by python-fcl."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.swept.jobs import intervals_of
from pathsim.model import Mesh, Piece, Role
from pathsim.model.linkage import Linkage
from pathsim.motion import PATH_ERROR
from tests.builders import box
from tests.clearance.swept.cases import Case, how_many, random_case

#: What the pages promise: gaps of contact from this way on are told apart, ends to this, m.
TOLD_APART, ENDS = 8e-3, 0.5e-3
WAY, PLATE, PIECE = 0.6, 0.002, 0.010


def near(case, limit):
    """Intervals of a case, and how many nodes and leaves that took."""
    case.counts[:] = 0
    spans = intervals_of(
        case.body, case.to_body, case.piece, case.whole, case.trees, limit, case.counts
    )
    return spans, int(case.counts[:2].sum())


def comb_case(gaps, knots=(0.0, 1.0), wide=PIECE, scale=1.0):
    """A block that slides along x, 0.6 m in 1 s, past plates with ``gaps`` of air for it.

    Returns the case and the exact times of contact ``(n, 2)``.
    """
    start, meshes, times = 0.02, [], []
    for gap in [*gaps, None]:
        meshes.append(box((PLATE, 0.05, 0.05), [start + PLATE / 2, 0.0, 0.0]))
        times.append(((start - wide / 2) / WAY, (start + PLATE + wide / 2) / WAY))
        start += PLATE + wide + (gap or 0.0)
    vertices = np.concatenate([mesh.vertices for mesh in meshes]) * scale
    faces = np.concatenate([m.faces + 8 * i for i, m in enumerate(meshes)])
    linkage = Linkage(np.eye(4)[None], np.array([[[0, 0, 1, 0], [0, 1, 0, 0], [-1, 0, 0, 0],
                      [0, 0, 0, 1.0]]]), np.ones(1, bool), (0,), np.ones(1), 0)  # fmt: skip
    # The axis slides along its own z; the link's end turns the block back, so that x is the way.
    fixed = np.array([[[0, 0, 1, 0], [0, 1, 0, 0], [-1, 0, 0, 0], [0, 0, 0, 1.0]]])
    linkage = Linkage(fixed, np.linalg.inv(fixed), np.ones(1, bool), (0,), np.ones(1), 0)
    piece = Piece("block", 1, box((wide * scale, 0.01, 0.01), [0, 0, 0]), is_torch=True)
    standing = Obstacle("comb", Role.OTHER, Mesh(vertices, faces), np.eye(4))
    t = np.asarray(knots, float)
    return Case(linkage, piece, standing, scale * WAY * t[:, None], t), np.array(times)


@pytest.mark.parametrize("knots", [(0.0, 1.0), tuple(np.linspace(0, 1, 38))])
def test_the_block_meets_each_plate_when_the_closed_form_says(knots):
    case, exact = comb_case([0.05, 0.02, 0.09], knots)
    spans, _ = near(case, PATH_ERROR)
    assert len(spans) == 4
    assert (spans[:, 0] <= exact[:, 0]).all()
    assert (spans[:, 1] >= exact[:, 1]).all()
    assert (np.abs(spans - exact) <= (ENDS + 2 * PATH_ERROR) / WAY).all()


@settings(max_examples=how_many(60, 600), deadline=None)
@given(
    st.lists(st.floats(TOLD_APART + 2 * PATH_ERROR, 0.02), min_size=1, max_size=12),
    st.integers(2, 60),
)
def test_no_gap_that_the_pages_promise_to_tell_is_swallowed(gaps, knots):
    case, exact = comb_case(gaps, np.linspace(0.0, 1.0, knots))
    exact = exact[exact[:, 0] < 1.0]
    spans, _ = near(case, PATH_ERROR)
    assert len(spans) == len(exact)
    inside = exact[:, 1] <= 1.0
    assert (spans[:, 0] <= exact[:, 0])[inside].all() and (spans[:, 1] >= exact[:, 1])[inside].all()


def test_a_gap_that_is_not_told_apart_is_counted_as_contact_never_as_air():
    case, exact = comb_case([0.002] * 20)
    spans, _ = near(case, PATH_ERROR)
    for start, end in exact:
        assert ((spans[:, 0] <= start) & (spans[:, 1] >= end)).any()


def test_a_long_contact_takes_looks_by_its_length_and_not_proofs_of_each_half_millimetre():
    plate, air = (0.5, 0.05, 0.002), [0.3, 0.0, 0.0]
    case, _ = comb_case([])
    standing = Obstacle("bar", Role.OTHER, box(plate, air), np.eye(4))
    long = Case(case.linkage, case.piece, standing, case.q, case.times)
    spans, looks = near(long, PATH_ERROR)
    assert len(spans) == 1
    assert np.abs(spans[0] * WAY - [0.05 - PIECE / 2, 0.55 + PIECE / 2]).max() <= ENDS
    halves = 0.51 / ENDS  # at least as many proofs without looks: one for each
    assert looks < 0.6 * halves


def test_what_goes_twenty_five_times_as_far_takes_no_more_looks():
    _, small = near(comb_case([0.05, 0.02, 0.09])[0], PATH_ERROR)
    _, large = near(comb_case([0.05, 0.02, 0.09], scale=25.4)[0], PATH_ERROR)
    assert large < 2 * small


@pytest.mark.parametrize("seed", range(how_many(12, 200)))
def test_intervals_hold_all_that_is_near_and_little_else(seed):
    rng = np.random.default_rng([2611, seed])
    case = random_case(rng, sharp=seed % 3 == 0)
    limit = float(rng.choice([PATH_ERROR, 0.003, 0.02]))
    spans, _ = near(case, limit)
    times = np.sort(np.concatenate([np.linspace(*case.times[[0, -1]], 500), spans.ravel()]))
    found = case.distances(times)
    inside = np.zeros(len(times), bool)
    for start, end in spans:
        inside |= (times >= start) & (times <= end)
    assert inside[found < limit - 1e-9].all()
    # The way of the piece's farthest point bounds how far a distance may have changed.
    ways = np.interp(times, case.times, case.part.course.ways[-1])
    nearest = np.array([found[np.abs(ways - way) <= 2 * TOLD_APART].min() for way in ways])
    assert (nearest[inside] < limit + 1.5e-3 + 1e-9).all()

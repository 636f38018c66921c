"""Proofs over ranges of a joint's values: what is covered is not proved anew, and nothing else."""

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from pathsim.clearance.joint_range import JointRange, Sides
from pathsim.clearance.joint_store import Apart, Known
from pathsim.clearance.obstacle import OWN_CAP
from pathsim.kernels.cache_folder import VARIABLE
from pathsim.model import Mesh
from tests.builders import box
from tests.clearance.lathed import both, lathed

HUB = lathed(0.03, -0.02, 0.02, 24)
#: Quarters meet often, so that ranges touch, hold one another and are single values.
VALUES = st.integers(-12, 12).map(lambda k: k / 4)
RANGES = st.tuples(VALUES, VALUES).map(sorted).map(tuple)
KINDS = st.sampled_from([Apart.PROVED, Apart.PROVED, Apart.ASK, Apart.INSIDE])


@pytest.fixture(autouse=True)
def nothing_kept(monkeypatch):
    monkeypatch.setenv(VARIABLE, "")


def is_in(value, ranges):
    return any(low <= value <= high for low, high in ranges)


@given(st.lists(st.tuples(RANGES, KINDS), max_size=8), RANGES)
def test_what_is_proved_is_all_that_ranges_say_and_no_more(told, asked):
    known = Known(None)
    for (low, high), kind in told:
        known.keep((low, high, kind))
    said = [each for each, kind in told if kind is Apart.PROVED]
    proved = [(low, high) for low, high, kind in known.spans if kind is Apart.PROVED]
    values = np.arange(-30, 31) / 8
    for value in values:
        assert is_in(value, said) == is_in(value, proved)
    # Ranges that have a value in common have become one.
    assert all(a[1] < b[0] for a, b in zip(sorted(proved), sorted(proved)[1:], strict=False))
    others = [(low, high, kind) for low, high, kind in known.spans if kind is not Apart.PROVED]
    assert others == [(*each, kind) for each, kind in told if kind is not Apart.PROVED]
    gaps = known.not_proved(*asked)
    for value in values[(values >= asked[0]) & (values <= asked[1])]:
        assert is_in(value, gaps) or is_in(value, proved)
    for low, high in gaps:
        assert asked[0] <= low <= high <= asked[1]
        assert low == high or not is_in((low + high) / 2, proved)
    if known.over(*asked) is Apart.PROVED:
        assert any(low <= asked[0] and asked[1] <= high for low, high in proved)


def bar_at(angle):
    c, s = np.cos(angle), np.sin(angle)
    T = np.array([[c, -s, 0, 0], [s, c, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]])
    return box((0.4, 0.04, 0.04), (0.2, 0, 0)).moved(T)


def bars():
    standing, moving = both(HUB, bar_at(0.0)), both(HUB, bar_at(np.pi / 2))
    return JointRange(Sides(standing, moving, np.eye(4), np.eye(4), False, (-3.0, 3.0)))


def test_a_range_that_grows_is_proved_where_it_has_grown(monkeypatch):
    """As where a point is dragged: two bars that meet a quarter of a turn farther back."""
    joint_range, fresh, looks = bars(), bars(), []
    distance = JointRange.distance

    def looked(self, value):
        if self is joint_range:
            looks.append(value)
        return distance(self, value)

    monkeypatch.setattr(JointRange, "distance", looked)
    low, before, proved = -0.05, None, []
    for high in np.arange(0.0, 1.3, 0.02):
        looks.clear()
        assert joint_range.over(low, high) is Apart.PROVED
        spans = [span for span in joint_range.known.spans if span[2] is Apart.PROVED]
        assert len(spans) == 1
        if looks and before is not None:
            assert min(looks) >= before  # the end of what was proved, and beyond
            proved.append(high)
        before = spans[0][1]
    assert 4 <= len(proved) <= 8  # every ten degrees
    assert fresh.over(low, 1.28) is Apart.PROVED
    for value in np.linspace(low, before, 300):
        assert distance(fresh, value) >= OWN_CAP


def test_a_proof_does_not_go_on_where_surfaces_meet():
    """A bar that lies over the other one parts what was proved on its two sides."""
    joint_range = bars()
    assert joint_range.over(-0.35, 1.0) is Apart.PROVED
    assert joint_range.over(-3.0, -2.8) is Apart.PROVED
    for low, high in ((-2.8, -0.35), (-2.9, 0.0), (-3.0, 1.0)):
        assert joint_range.over(low, high) is Apart.ASK
    spans = sorted(span[:2] for span in joint_range.known.spans if span[2] is Apart.PROVED)
    assert len(spans) == 2
    for low, high in spans:
        assert min(joint_range.distance(v) for v in np.linspace(low, high, 200)) >= OWN_CAP


def test_what_lies_inside_is_told_beside_what_was_proved():
    """A small block goes into a large hollow one: proved outside, told inside, not taken over."""
    large = both(HUB, box((0.2, 0.2, 0.2), (0.3, 0, 0)))
    small = both(HUB, box((0.02, 0.02, 0.02), (0.3, 0, 0)))
    joint_range = JointRange(Sides(large, small, np.eye(4), np.eye(4), False, (-3.0, 3.0)))
    assert joint_range.over(1.5, 1.7) is Apart.PROVED
    assert joint_range.over(-0.1, 0.1) is Apart.INSIDE
    assert joint_range.over(-0.05, 0.1) is Apart.INSIDE
    assert joint_range.over(-0.1, 1.6) is not Apart.PROVED
    assert joint_range.over(1.4, 1.8) is Apart.PROVED


def vessel():
    """A box of which one face was not drawn: a block turns in through the hole."""
    shape = trimesh.creation.box((0.2, 0.2, 0.2))
    is_drawn = shape.face_normals[:, 1] < 0.9
    return both(HUB, Mesh(shape.vertices + [0.3, 0, 0], shape.faces[is_drawn]))


def block_in(standing):
    block = both(HUB, box((0.02, 0.02, 0.02), (0.3, 0, 0)))
    return JointRange(Sides(standing, block, np.eye(4), np.eye(4), False, (-3.0, 3.0)))


@pytest.mark.parametrize("turned", [1.0, -1.0])
def test_a_proof_does_not_go_on_through_a_hole(turned):
    """Surfaces stay apart all the way in: that one lies in the other is found all the same."""
    standing = vessel()
    if turned < 0:  # the hole on the other side: what is inside is at the range's upper end
        standing = standing.moved(np.diag([1.0, -1.0, -1.0, 1.0]))
    joint_range = block_in(standing)
    said = []
    for low in (1.6, 1.5, 1.2, 0.9, 0.6, 0.4, 0.2, 0.1, 0.05, 0.0):
        span = sorted((turned * low, turned * 1.6))
        said.append(joint_range.over(*span))
        assert said[-1] is block_in(standing).over(*span)
        assert joint_range.distance(turned * low) > 0.05
    assert said[0] is Apart.PROVED and said[-1] is Apart.INSIDE
    assert joint_range.over(0.0, 0.0) is Apart.INSIDE
    assert joint_range.over(*sorted((turned * 1.2, turned * 1.6))) is Apart.PROVED


def test_a_proof_goes_on_without_a_look_inside_where_all_is_closed(monkeypatch):
    closed = block_in(both(HUB, box((0.2, 0.2, 0.2), (0.3, 0, 0))))
    assert closed.over(1.2, 1.6) is Apart.PROVED
    monkeypatch.setattr(JointRange, "_one_inside", lambda *_: pytest.fail("looked again"))
    assert closed.over(1.2, 2.0) is Apart.PROVED


def test_what_was_told_inside_is_not_said_of_a_part_where_it_is_not():
    """A point that went too far in and is taught farther back: the alarm goes away again."""
    joint_range = block_in(vessel())
    assert joint_range.over(0.0, 1.6) is Apart.INSIDE
    assert joint_range.over(0.0, 1.6) is Apart.INSIDE
    assert joint_range.over(1.2, 1.6) is Apart.PROVED
    assert joint_range.over(-0.1, 0.1) is Apart.INSIDE

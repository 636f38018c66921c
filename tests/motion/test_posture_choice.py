"""What a pose leaves open: every solution that fits is counted, and the nearest is the nearest."""

import dataclasses
import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

import pathsim.arm.numeric_inverse as numeric
from pathsim.arm import Arm
from pathsim.arm.postures import ANY_POSTURE, Posture, Wrist, posture_of, read_posture
from pathsim.arm.readings import ReadingsMap
from pathsim.model import Point
from pathsim.motion import NoteKind, plan_program
from pathsim.motion.posture_choice import Wanted, pick
from pathsim.transforms import frozen
from tests.builders import OFFSET_WRIST_ROWS, SHOP_ROWS, cell, joint, linear, rail_arm, shop_arm

TURN = 2 * np.pi
Q = np.array([0.3, 0.2, 0.4, 0.5, -0.6, 0.7])
six = arrays(float, 6, elements=st.floats(-3.0, 3.0))


def asked(arm, q, posture=ANY_POSTURE, about=()):
    return Wanted(arm.pose(q), None, posture, tuple(about))


def by_hand(arm, q):
    """All solutions within limits, by adding whole turns to the eight in every way."""
    free = Arm.from_chain(arm.fixed, arm.ends)  # one value a joint, in (-pi, pi]
    rows = []
    for row in free.inverse(arm.pose(q)):
        for turns in itertools.product((-1, 0, 1), repeat=6):
            moved = row + TURN * np.array(turns)
            if arm.within_limits(moved).all():
                rows.append(moved)
    return np.array(rows)


@given(six, six)
@settings(max_examples=12, deadline=None)
def test_all_that_fit_are_counted_and_the_nearest_is_taken(q, near):
    limits = np.array([[-3.2, 3.2], [-2, 2], [-3, 3], [-4, 4], [-2.2, 2.2], [-6.4, 6.4]])
    arm = shop_arm(limits)
    q = np.clip(q, limits[:, 0], limits[:, 1])
    if abs(np.sin(q[4])) < 1e-3:
        return
    rows = by_hand(arm, q)
    found = pick(arm, np.eye(4), asked(arm, q), near)
    assert found.others == len(rows) - 1 and found.is_open == (len(rows) > 1)
    gap = np.abs(rows - near)
    assert np.abs(np.array(found.q) - near).max() <= gap.max(axis=1).min() + 1e-6
    # All three words leave the whole turns alone open.
    wanted = posture_of(arm, q)
    rows = np.array([row for row in rows if posture_of(arm, row) == wanted])
    said = pick(arm, np.eye(4), asked(arm, q, wanted), near)
    assert said.others == len(rows) - 1 and not said.is_other_posture
    gap = np.abs(rows - near)
    best = rows[np.lexsort([gap.sum(axis=1), np.round(gap.max(axis=1), 9)])[0]]
    np.testing.assert_allclose(said.q, best, atol=1e-6)
    # What it says would tell the taken one from the others does so.
    if said.apart:
        again = pick(arm, np.eye(4), asked(arm, q, wanted, [(j, said.q[j]) for j in said.apart]),
                     near)  # fmt: skip
        assert not again.is_open
        np.testing.assert_allclose(again.q, said.q, atol=1e-9)
    else:
        assert not said.is_open


def test_a_turn_that_is_said_is_taken_though_another_is_nearer():
    arm, near = shop_arm(), Q.copy()
    wanted = posture_of(arm, Q)
    for turn in (-TURN, 0.0):
        rough = [(5, Q[5] + turn + 0.4), *[(j, Q[j]) for j in range(5)]]
        found = pick(arm, np.eye(4), asked(arm, Q, wanted, rough), near)
        assert found.q[5] == pytest.approx(Q[5] + turn, abs=1e-9) and not found.is_open
    assert pick(arm, np.eye(4), asked(arm, Q, wanted, [(5, Q[5] + 2.0)]), near) is None


def test_rough_values_are_what_the_display_shows():
    """A display that counts joint 6 the other way from another zero, joint 3 coupled to joint 2."""
    shown = ReadingsMap.of([1, 1, 1, 1, 1, -1], [0, 0, 0, 0, 0, 3.0], [(2, 1, -1.0)])
    arm = shop_arm().with_readings(shown)
    rough = [(j, value) for j, value in enumerate(shown.shown(Q))]
    found = pick(arm, np.eye(4), asked(arm, Q, about=rough), np.zeros(6))
    np.testing.assert_allclose(found.q, Q, atol=1e-9)
    assert not found.is_open


def test_a_long_way_on_the_rail_does_not_hide_what_the_joints_turn():
    """Counted with the rail's 3.8 m all solutions would be as far off, and the sum would decide."""
    limits = np.tile([-3.1, 3.1], (6, 1))
    arm, alone = rail_arm(shop_arm(limits)), shop_arm(limits)
    rng = np.random.default_rng(8)
    told = 0
    while told < 3:
        near = rng.uniform(-2, 2, 6)
        gap = np.abs(by_hand(alone, Q) - near)
        if gap.max(axis=1).argmin() == gap.sum(axis=1).argmin():
            continue
        told += 1
        expected = by_hand(alone, Q)[gap.max(axis=1).argmin()]
        wanted = Wanted(arm.pose(np.append([1.9], Q)), 1.9, ANY_POSTURE, ())
        found = pick(arm, np.eye(4), wanted, np.append([-1.9], near))
        np.testing.assert_allclose(found.q, [1.9, *expected], atol=1e-6)


def test_a_joint_without_limits_leaves_every_turn_open_until_one_is_said():
    limits = np.tile([-3.1, 3.1], (6, 1))
    limits[5] = [-np.inf, np.inf]
    arm = shop_arm(limits)
    wanted, near = posture_of(arm, Q), Q + [0, 0, 0, 0, 0, 2 * TURN]
    found = pick(arm, np.eye(4), asked(arm, Q, wanted), near)
    assert found.q[5] == pytest.approx(Q[5] + 2 * TURN) and found.unlimited == (5,)
    assert found.others == 0 and found.is_open and found.apart == (5,)
    said = pick(arm, np.eye(4), asked(arm, Q, wanted, [(5, Q[5] - TURN)]), near)
    assert said.q[5] == pytest.approx(Q[5] - TURN) and not said.is_open


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_joints_4_and_6_in_line_share_their_turn_as_before(way):
    """The closed form puts joint 4 to zero there: a leap that no arm makes."""
    rows = [list(row) for row in SHOP_ROWS]
    arm = shop_arm(np.tile([-3.1, 3.1], (6, 1)))
    if way < 0:  # joint 5 half round: joints 4 and 6 turn against each other
        arm = Arm.from_dh(rows, "standard", limits=np.tile([-6.0, 6.0], (6, 1)))
    q = np.array([0.3, 0.2, 0.4, 1.0, 0.0 if way > 0 else np.pi, -0.4])
    near = q + [0.01, 0, 0, 0.2, 0, 0]
    words = posture_of(arm, q)
    found = pick(arm, np.eye(4), asked(arm, q, Posture(words.shoulder, words.elbow)), near)
    assert found.q[3] == pytest.approx(near[3]) and found.shares_turn and found.is_open
    np.testing.assert_allclose(arm.pose(np.array(found.q)), arm.pose(q), atol=1e-9)
    assert found.q[5] == pytest.approx(q[5] - way * 0.2)
    # Turned neither way, it meets both words; a rough joint 4 is kept to.
    for wrist in Wrist:
        posture = Posture(words.shoulder, words.elbow, wrist)
        said = pick(arm, np.eye(4), asked(arm, q, posture, [(3, 2.5)]), near)
        assert said.q[3] == pytest.approx(2.5) and said.is_open


def offset_arm():
    return Arm.from_dh(OFFSET_WRIST_ROWS, "standard", limits=np.tile([-3.1, 3.1], (6, 1)),
                       speed=np.full(6, 3.0), acceleration=np.full(6, 8.0))  # fmt: skip


def test_where_the_arm_comes_from_is_a_seed_of_the_search(monkeypatch):
    """One seed beside it: what is near is found from where the arm is, or not at all."""
    monkeypatch.setattr(numeric, "_SEEDS", 1)
    arm, near = offset_arm(), Q + 0.1
    from_here = arm.inverse(arm.pose(Q), near=near)
    assert np.abs(from_here - Q).max(axis=1).min() < 1e-6
    elsewhere = arm.inverse(arm.pose(Q))
    assert len(elsewhere) == 0 or np.abs(elsewhere - Q).max(axis=1).min() > 0.1
    # The last values themselves, not only some round them.
    first = numeric.NumericInverse(arm, np.eye(4))._seeds(0.0, near)[0]
    np.testing.assert_array_equal(first, near)


def test_a_search_is_said_to_be_one():
    arm = offset_arm()
    found = pick(arm, np.eye(4), asked(arm, Q), Q)
    assert found.is_search and found.posture is None and found.others > 0
    np.testing.assert_allclose(found.q, Q, atol=1e-6)
    # Another one stands within a quarter of a turn of it in every joint: no rough value helps.
    said = pick(arm, np.eye(4), asked(arm, Q, about=list(enumerate(Q))), Q)
    assert said.is_search and said.others == 1 and said.apart == ()
    alone = Q + [0, 0, 0.5, 0, -0.6, 0]
    said = pick(arm, np.eye(4), asked(arm, alone, about=list(enumerate(alone))), alone)
    assert said.is_search and not said.is_open


def with_pose(c, name, q, **said):
    """The cell with one point more, taught as the pose at ``q``."""
    T = c.arm.pose(q) @ c.torch.T_flange_tcp
    point = Point(name, None, frozen(T), **said)
    return dataclasses.replace(c, points={**c.points, name: point})


def test_notes_of_a_program():
    """Whatever is open is noted once a visit; what is said whole brings no note."""
    c = cell({"home": Q}, [joint("end"), joint("home"), joint("end")])
    open_ = plan_program(with_pose(c, "end", Q + 0.2)).notes
    assert [(n.kind, n.point, n.move) for n in open_] == [
        (NoteKind.POSTURE_PICKED, "end", 0), (NoteKind.POSTURE_PICKED, "end", 2),
    ]  # fmt: skip
    assert open_[0].pick.others > 0 and not open_[0].pick.from_middle
    about = tuple(enumerate(Q + 0.3))
    posture = posture_of(c.arm, Q + 0.2)
    assert plan_program(with_pose(c, "end", Q + 0.2, posture=posture, about=about)).notes == ()
    start = dataclasses.replace(with_pose(c, "end", Q + 0.2), program=dataclasses.replace(
        c.program, start="end", moves=(joint("home"),)))  # fmt: skip
    (note,) = plan_program(start).notes
    assert note.move is None and note.pick.from_middle


def test_a_straight_move_is_held_against_the_turn_that_is_said():
    c = cell({"home": Q}, [linear("end")])
    near = c.arm.pose(Q).copy()
    near[2, 3] += 0.03
    end = c.arm.inverse(near)
    end = end[np.abs(end - Q).max(axis=1).argmin()]
    for turn, is_said in ((0.0, False), (TURN, True)):
        changed = with_pose(c, "end", end, about=((5, Q[5] + turn),))
        notes = plan_program(changed).notes
        assert bool(notes) == is_said
        if is_said:
            (note,) = notes
            assert note.kind is NoteKind.ARRIVES_OTHERWISE and note.axis == 5
            assert note.turn == pytest.approx(-TURN, abs=0.3) and note.taught is None
    words = read_posture("low")
    (note,) = plan_program(with_pose(c, "end", end, posture=words)).notes
    assert note.taught == words and note.taken == posture_of(c.arm, end)


def test_joint_values_beside_a_pose_settle_it():
    c = with_pose(cell({"home": Q}, [joint("end")]), "end", Q + 0.2)
    point = dataclasses.replace(c.points["end"], q=frozen(Q + 0.2))
    taught = dataclasses.replace(c, points={**c.points, "end": point})
    assert plan_program(taught).notes == ()

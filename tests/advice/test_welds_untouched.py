"""No proposal touches a weld: laws over random programs, told from places and not from names."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pathsim.advice import Change, Evaluator, advise, changed, lifts
from pathsim.errors import CannotCheck, MotionError, WeldTouched
from pathsim.findings.weld_places import AT_PART, weld_points
from pathsim.model import Move, MoveKind, Pattern, Point, Role, Weave
from pathsim.motion.welds import SAME_PLACE, arc_points, points_at, welds
from pathsim.session import Session
from pathsim.transforms import frozen, pose, rotation_about, translation
from tests.builders import body, box, cell, shop_arm, torch

#: Where the seam of the small cell starts, and how its torch stands, world.
AT = np.array([0.75, 0.0, 0.30])
DOWN = rotation_about([1.0, 0.0, 0.0], np.pi)


def joints(place, near=None):
    """Joint values of the small arm with the wire's end at a place, torch straight down."""
    T = pose(DOWN, place) @ np.linalg.inv(torch().T_flange_tcp)
    found = shop_arm().inverse(T)
    near = np.array([0.0, 0.3, 0.4, 0.0, 0.9, 0.0]) if near is None else near
    return found[np.argmin(np.abs(found - near).max(axis=1))]


PLACES = {
    "home": AT + [-0.05, 0.20, 0.30],
    "above": AT + [0.0, -0.10, 0.06],
    "start": AT + [0.0, -0.10, 0.0],
    "middle": AT,
    "end": AT + [0.0, 0.10, 0.0],
    "start again": AT + [0.0004, -0.10, 0.0],  # touched up by hand: the same place
    "retract": AT + [0.0, 0.10, 0.12],
    "low": AT + [0.0, 0.10, 0.02],
}
NAMES = list(PLACES)
WEAVE = Weave("w", Pattern.ZIGZAG, 0.002, 2.0)


def small_cell(moves, extra=()):
    """A plate with points on it and above it, and a block beside the seam's end."""
    bodies = [
        body(box((0.3, 0.4, 0.01)), "plate", Role.PART, AT - [0.0, 0.0, 0.0055]),
        body(box((0.04, 0.04, 0.20)), "block", Role.CLAMP, AT + [-0.02, 0.17, 0.10]),
    ]
    points = {name: joints(place) for name, place in PLACES.items()}
    return cell(points, moves, bodies=[*bodies, *extra])


def seams_by_place(c):
    """All seams as they are run: places of start, via and end, and all that is asked of them."""

    def at(name):
        return c.tool_poses(c.points[name].q[None])[0]

    found, here = [], c.program.start
    for move in c.program.moves:
        if move.arc_on:
            places = [at(name) for name in (here, move.via, move.target) if name]
            asked = (move.kind, move.speed, move.weave, move.crater, move.joined, move.wait)
            found.append((places, asked))
        here = move.target
    return found


def same_seams(one, other):
    return len(one) == len(other) and all(
        a[1] == b[1] and len(a[0]) == len(b[0]) and np.allclose(a[0], b[0], atol=1e-9)
        for a, b in zip(one, other, strict=True)
    )


def moves_of():
    """Moves to any of the points: in the air, or with the arc on."""
    name = st.sampled_from(NAMES)
    air = st.builds(lambda n, k: Move(k, n, 0.4 if k is MoveKind.JOINT else 0.1),
                    name, st.sampled_from([MoveKind.JOINT, MoveKind.LINEAR]))  # fmt: skip
    seam = st.builds(
        lambda n, v, w: Move(MoveKind.LINEAR, n, v, None, True, WEAVE if w else None, 0.3),
        st.sampled_from(["start", "middle", "end", "start again", "retract"]),
        st.sampled_from([0.005, 0.008]), st.booleans(),
    )  # fmt: skip
    return st.one_of(air, air, seam)


programs = st.lists(moves_of(), min_size=2, max_size=7)


@given(programs, st.data())
@settings(max_examples=150, deadline=None)
def test_a_change_leaves_every_seam_or_is_not_made(moves, data):
    """Told by the places of all seams, worked out without the rule that is tested."""
    c = small_cell(moves)
    names, places = st.sampled_from([*NAMES[1:], "new"]), st.sampled_from([0.0, 0.1])
    new = data.draw(st.dictionaries(names, places.map(lambda h: AT + [h, 0, h]), max_size=2))
    index = st.integers(0, len(moves))
    put_in = tuple(data.draw(st.lists(st.tuples(index, moves_of()), max_size=2)))
    inside = st.integers(0, len(moves) - 1)
    instead = tuple(data.draw(st.lists(st.tuples(inside, moves_of()), max_size=1)))
    points = {name: joints(place) for name, place in new.items()}
    if "new" not in points:
        points["new"] = joints(AT + [0.0, 0.0, 0.2])
    try:
        change = Change(c, points, put_in, instead)
    except WeldTouched:
        return
    assert same_seams(seams_by_place(c), seams_by_place(changed(c, change)))


@pytest.mark.parametrize("name", ["start", "end", "start again", "middle"])
def test_no_point_of_a_weld_can_be_moved(name):
    """Start, via and end, a second name of one of them, and an unused point at the part."""
    arc = Move(MoveKind.ARC, "end", 0.006, "low", True)
    c = small_cell([Move(MoveKind.LINEAR, "start", 0.1), arc])
    assert {"start", "end", "low", "start again"} <= arc_points(c)
    assert "middle" in weld_points(c) - arc_points(c)
    for moved in (name, "low"):
        with pytest.raises(WeldTouched, match=moved):
            Change(c, {moved: joints(AT + [0.0, 0.0, 0.1])})
    Change(c, {"above": joints(AT + [0.0, 0.0, 0.1])})


@pytest.mark.parametrize(
    "change",
    [
        lambda m: ((), ((1, replace(m[1], speed=0.02)),)),
        lambda m: ((), ((1, replace(m[1], weave=WEAVE)),)),
        lambda m: ((), ((1, replace(m[1], arc_on=False)),)),
        lambda m: ((), ((0, replace(m[0], target="above")),)),  # the seam would start elsewhere
        lambda m: (((1, replace(m[0], target="above")),), ()),
        lambda m: (((2, replace(m[1], target="start")),), ()),  # a second weld
    ],
)
def test_no_seam_can_be_made_otherwise(change):
    moves = [Move(MoveKind.LINEAR, "start", 0.1), Move(MoveKind.LINEAR, "end", 0.006, arc_on=True)]
    c = small_cell(moves)
    put_in, instead = change(moves)
    with pytest.raises(WeldTouched):
        Change(c, {}, put_in, instead)


def test_a_change_is_held_against_the_cell_that_it_is_made_to():
    """One made for another program, where the point was in the air, is not made to this one."""
    air = small_cell([Move(MoveKind.LINEAR, "above", 0.1)])
    change = Change(air, {"above": joints(AT + [0.0, 0.0, 0.1])})
    welded = small_cell([Move(MoveKind.LINEAR, "above", 0.006, arc_on=True)])
    with pytest.raises(WeldTouched):
        changed(welded, change)


def test_one_place_is_told_by_its_distance():
    c = small_cell([Move(MoveKind.LINEAR, "end", 0.006, arc_on=True)])
    for off, is_one in ((0.9 * SAME_PLACE, True), (1.1 * SAME_PLACE, False)):
        near = Point("near", frozen(joints(PLACES["end"] + [0, 0, off])), None)
        there = replace(c, points={**c.points, "near": near})
        assert ("near" in points_at(there, {"end"})) == is_one
        T = frozen(np.linalg.inv(c.T_world_base) @ pose(DOWN, PLACES["end"] + [0, 0, off]))
        there = replace(c, points={**c.points, "near": Point("near", None, T)})
        assert ("near" in arc_points(there)) == is_one


@pytest.mark.parametrize(("off", "is_at"), [(0.9, True), (1.1, False), (-3.0, True)])
def test_a_wire_at_a_part_or_in_it_is_at_a_weld(off, is_at):
    c = small_cell([Move(MoveKind.LINEAR, "above", 0.1)])
    surface = AT - [0.0, 0.0, 0.0005]
    near = Point("near", frozen(joints(surface + [0.03, 0.02, off * AT_PART])), None)
    there = replace(c, points={**c.points, "near": near})
    assert ("near" in weld_points(there)) == is_at
    low = translation([0, 0, -0.1])
    bodies = [replace(one, T_world_body=low @ one.T_world_body) for one in there.bodies]
    moved = replace(there, bodies=bodies)
    assert "near" not in weld_points(moved)


@given(programs)
@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_no_proposal_touches_a_weld(monkeypatch, moves):
    """Whole searches over random programs: what is proposed leaves every seam as it was."""
    monkeypatch.setattr(lifts, "HIGHEST", 0.05)
    monkeypatch.setattr(lifts, "_PROBES", (0.05,))
    c = small_cell(moves)
    try:
        evaluator = Evaluator(c, Session())
    except (CannotCheck, MotionError):
        return
    for one in advise(evaluator):
        for proposal in one.proposals:
            after = changed(c, proposal.change)
            assert same_seams(seams_by_place(c), seams_by_place(after))
            assert welds(after.program) == welds(c.program)
            assert not set(proposal.change.points) & weld_points(c)
            kept_moves = [m for m in after.program.moves if m in c.program.moves]
            assert len(after.program.moves) >= len(c.program.moves) and kept_moves

"""Findings held against each other: what is worse is never taken for the same."""

from dataclasses import replace

import numpy as np
import pytest

from pathsim.advice.compare import cured, worsened
from pathsim.advice.proposal import moves_only_in
from pathsim.check import check
from pathsim.clearance import Span
from pathsim.files import load_cell
from pathsim.findings import Finding, Level
from tests.advice.test_advise import SAMPLES

SAME = (0, 1, 2)


def touch(seconds, move=2, piece="neck", body="clamp"):
    spans = (Span(1.0, 1.0 + seconds),)
    numbers = {"clearance": 0.0, "times": 1.0}
    return Finding(Level.STOP, "contact", "t", move, 1.0, spans, piece, body, numbers)


def near(clearance, margin=0.010, move=2, piece="neck", body="clamp"):
    numbers = {"clearance": clearance, "margin": margin}
    spans = (Span(1.0, 1.1),)
    return Finding(Level.WATCH, "near-hit", "n", move, 1.0, spans, piece, body, numbers)


def limit(joint, value, bound=1.0, move=2):
    numbers = {"joint": float(joint), "value": value, "limit": bound}
    return Finding(Level.STOP, "joint limit", "l", move, 1.0, numbers=numbers)


def other(kind, level=Level.WATCH, move=2, text="o", **numbers):
    return Finding(level, kind, text, move, 1.0, numbers=numbers)


def unlaid(kind, share):
    return other(kind, Level.STOP, share=share)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (touch(0.016), touch(0.041)),  # touches longer
        (near(0.005), touch(0.01)),
        (near(0.005), near(0.003)),
        (near(0.005, margin=0.002), near(0.005, margin=0.010)),  # as near, where more is asked for
        (near(0.005), near(0.005, body="post")),
        (limit(5, 1.1), limit(3, 1.1)),  # another joint
        (limit(5, 1.1), limit(5, 1.2)),
        (other("joint speed", needed=2.0, limit=1.5), other("joint speed", needed=2.5, limit=1.5)),
        (other("wrist aligned", angle=0.05), other("wrist aligned", angle=0.02)),
        (unlaid("out of reach", 0.8), unlaid("out of reach", 0.3)),
        (unlaid("out of reach", 0.8), unlaid("joint leap", 0.9)),
        (other("weave room", room=0.001), other("weave room", room=0.0005)),  # side not known
        (other("weave room", room=0.001), other("weave room", room=0.002)),
        (other("rounding", text="move 2 by 3 mm"), other("rounding", text="move 2 by 4 mm")),
        (other("wrist aligned", Level.WATCH, angle=0.05),
         other("wrist aligned", Level.STOP, angle=0.05)),
    ],
)  # fmt: skip
def test_what_is_graver_is_noticed(old, new):
    assert worsened([old], [new], SAME) == [new]
    assert worsened([new], [new], SAME) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (touch(0.041), touch(0.016)),
        (touch(0.041), near(0.001)),
        (near(0.003), near(0.0028)),  # within the width of an interval
        (limit(5, 1.2), limit(5, 1.1)),
        (other("wrist aligned", angle=0.02), other("wrist aligned", angle=0.05)),
    ],
)
def test_what_is_milder_may_be_shown(old, new):
    assert worsened([old], [new], SAME) == []


def test_one_finding_before_excuses_one_after():
    two = [other("wrist aligned", angle=0.05), other("wrist aligned", angle=0.05)]
    assert worsened(two[:1], two, SAME) == [two[1]]


def test_moves_are_followed_through_what_is_put_in():
    """A move put in before the third: it is the fourth now, and what it hits is not new."""
    came_from = (0, 1, None, 2)
    assert worsened([touch(0.1, move=3)], [touch(0.1, move=4)], came_from) == []
    new = touch(0.1, move=3)  # on the move that was put in
    assert worsened([touch(0.1, move=3)], [new], came_from) == [new]
    texts = (
        other("rounding", text="in move 3, a > b", move=3),
        other("rounding", text="in move 4, a > b", move=4),
    )
    assert worsened(texts[:1], texts[1:], came_from) == []


def test_a_touch_that_becomes_a_near_hit_is_not_cured():
    assert cured([touch(0.1)], [near(0.005)], SAME) == []
    assert cured([touch(0.1)], [], SAME) == [touch(0.1)]
    note = other("wrist aligned", Level.NOTE, angle=0.05)
    assert cured([other("wrist aligned", angle=0.05)], [note], SAME) != []


def doubt(level=Level.STOP, body="clamp", **numbers):
    text = f"The {body} is 2 m long. As it is, it touches neck in {numbers} moves."
    return Finding(level, "unlikely unit", text, body=body, numbers=numbers)


def test_a_doubt_is_held_against_itself_by_what_it_explains():
    """Its text names the moves it hits on: fewer is no new finding, more or longer is worse."""
    before = doubt(contacts=5.0, near=1.0, **{"contact seconds": 2.0})
    fewer = doubt(contacts=3.0, near=1.0, **{"contact seconds": 1.0})
    assert worsened([before], [fewer], SAME) == [] == cured([before], [fewer], SAME)
    assert worsened([fewer], [before], SAME) == [before]
    longer = doubt(contacts=5.0, near=1.0, **{"contact seconds": 2.5})
    assert worsened([before], [longer], SAME) == [longer]
    other_body = doubt(body="post", contacts=1.0, near=0.0, **{"contact seconds": 1.0})
    assert worsened([before], [other_body], SAME) == [other_body]


def floats(gap, *names, text="f"):
    numbers = {"gap": gap, **{f"floats: {name}": 1.0 for name in names}}
    return Finding(Level.WATCH, "floats", f"{text} {gap}", body=names[0], numbers=numbers)


def test_what_floats_may_float_elsewhere_but_nothing_else_may_float_then():
    """A clamp that nothing carries is moved aside: its gap says nothing; what it bore does."""
    old = floats(0.105, "clamp")
    far = floats(0.3, "clamp")
    nowhere = replace(far, numbers={"floats: clamp": 1.0})  # no other body is near
    assert worsened([old], [far], SAME) == [far] and worsened([old], [nowhere], SAME) == [nowhere]
    for new in (floats(0.2, "clamp"), floats(0.05, "clamp", text="otherwise")):
        assert not worsened([old], [new], SAME) and not cured([old], [new], SAME)
    both, other_one = floats(0.1, "clamp", "plate"), floats(0.1, "plate")
    assert worsened([old], [both], SAME) == [both]
    assert worsened([old], [other_one], SAME) == [other_one]
    assert not worsened([both], [old], SAME)
    assert cured([old], [], SAME) == [old]


def test_a_seam_solved_from_another_side_is_no_move_of_a_change():
    """Its joint values differ by the last bits: what is tight on it is not what a change leaves."""
    result = check(load_cell(SAMPLES / "gate_hinge"))
    rng = np.random.default_rng(4)

    def with_tracks(off):
        moves = [replace(m, track=replace(m.track, q=m.track.q + off(m))) for m in result.moves]
        return replace(result, moves=tuple(moves))

    near = with_tracks(lambda m: rng.uniform(-1, 1, m.track.q.shape) * 2e-11)
    assert moves_only_in(result, near) == moves_only_in(near, result) == ()
    other = with_tracks(lambda m: 1e-3 * (m.track.index == 1))
    assert [m.track.index for m in moves_only_in(other, result)] == [1]
    assert [m.track.index for m in moves_only_in(result, other)] == [1]
    twice = replace(result, moves=(*result.moves, result.moves[2]))
    assert moves_only_in(twice, result) == (result.moves[2],)
    assert moves_only_in(result, twice) == ()

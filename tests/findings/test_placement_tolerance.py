"""How far a body may be off: shifted and turned by that much it is still not touched."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance import MoveClearance, PairClearance, Span
from pathsim.clearance.contact_rules import Stretch, Zone, pairs_to_measure
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.records import Clearance, Inner
from pathsim.files import load_cell
from pathsim.findings.placement_tolerance import placement_tolerances
from pathsim.model import Role, TorchPiece
from pathsim.motion import plan_program
from pathsim.report.placement_text import placement_lines
from pathsim.transforms import exp_rotation, frozen, pose, translation
from tests.builders import ball, body, box, cell, joint
from tests.clearance.oracle import dense_distances

HOME = np.array([0.3, 0.1, 0.2, 0.3, 0.9, 0.4])
NOZZLE = (TorchPiece("nozzle", ball(0.02, (0, 0, 0.1))),)


#: All links have a shape, far from the bodies: without one there is no number.
LINKS = (box((0.001,) * 3),) * 7


def swinging(bodies, links=LINKS):
    points = {"home": HOME, "end": HOME + [0.5, 0.1, -0.1, 0.2, 0.1, 0.0]}
    return cell(points, [joint("end")], bodies=bodies, pieces=NOZZLE, links=links)


def tip(share):
    c = swinging([])
    q = (1 - share) * c.points["home"].q + share * c.points["end"].q
    T = c.link_poses(q[None])[0, c.arm.dof]
    return T[:3, :3] @ [0, 0, 0.1] + T[:3, 3]


def test_a_ball_beside_a_ball_by_hand():
    """Centres 80 mm apart at the start, where the way leads away: 80 - 20 - 30 mm of room."""
    away = tip(0.0) - tip(0.2)
    away = away / np.linalg.norm(away)
    at = tip(0.0) + 0.08 * away
    c = swinging([body(ball(0.03), at=at)])
    (found,) = placement_tolerances(c, check(c).moves)
    wire = [p for p in check(c).moves[0].pairs if p.piece == "wire"]
    assert all(p.clearance.lower > 0.03 for p in wire)
    assert 0.0290 < found.shift <= 0.0301
    assert found.turn == pytest.approx(2 * np.arcsin(found.shift / (2 * 0.03)), rel=0.01)
    assert found.nearest == "nozzle" and not found.is_at_least


@pytest.mark.parametrize("seed", range(6))
def test_shifted_or_turned_by_it_nothing_touches(seed):
    rng = np.random.default_rng(seed)
    side = rng.normal(size=3)
    at = tip(rng.uniform(0.2, 0.8)) + side / np.linalg.norm(side) * rng.uniform(0.05, 0.09)
    c = swinging([body(box(rng.uniform(0.01, 0.05, 3), rng.normal(0, 0.03, 3)), at=at)])
    (found,) = placement_tolerances(c, check(c).moves)
    standing = c.bodies[0]
    for _ in range(6):
        way = rng.normal(size=3)
        way *= found.shift / np.linalg.norm(way)
        axis = rng.normal(size=3)
        axis *= found.turn / np.linalg.norm(axis)
        for T in (translation(way) @ standing.T_world_body,
                  standing.T_world_body @ pose(exp_rotation(axis), np.zeros(3))):  # fmt: skip
            other = replace(c, bodies=(replace(standing, T_world_body=frozen(T)),))
            track = plan_program(other).tracks[0]
            window = Span(float(track.t[0]), float(track.t[-1]))
            for piece, thing in pairs_to_measure(other, track, obstacles(other)):
                _, seen = dense_distances(other, track, piece, thing, window, 80)
                assert seen.min() > 0 or found.shift == 0


def test_what_touches_has_none_and_the_most_delicate_comes_first():
    c = swinging([body(box((0.05, 0.05, 0.05)), "hit", at=tip(0.5)),
                  body(box((0.05, 0.05, 0.05)), "far", at=(0, 0, -3.0))])  # fmt: skip
    first, second = placement_tolerances(c, check(c).moves)
    assert (first.body, first.shift, first.turn) == ("hit", 0.0, 0.0)
    assert second.body == "far" and second.is_at_least and second.shift >= 0.0495


def test_no_number_where_a_move_was_not_checked_to_its_end():
    from tests.builders import linear

    points = {"home": HOME, "end": HOME + [3.0, 0.9, 0.4, 0.0, 0.0, 0.0]}
    bodies = [body(ball(0.03), at=(0, 0, -3.0))]
    c = cell(points, [linear("end")], bodies=bodies, pieces=NOZZLE, links=LINKS)
    result = check(c)
    assert result.trajectory.tracks[0].fault is not None
    (found,) = placement_tolerances(c, result.moves)
    assert "not checked to its end" in found.unknown and np.isnan(found.shift)


def test_no_number_where_a_link_has_no_shape():
    c = swinging([body(ball(0.03), at=(0, 0, -3.0))], links=(*LINKS[:5], None, *LINKS[6:]))
    (found,) = placement_tolerances(c, check(c).moves)
    assert "link 5 has no shape" in found.unknown and np.isnan(found.shift)


def test_no_number_where_roundings_meet():
    """Two roundings longer than the move between them: what happens there was not measured."""
    points = {name: HOME + np.array([k * 0.05, 0, 0, 0, 0, 0]) for k, name in enumerate("abcd")}
    far = [body(ball(0.03), at=(0, 0, -3.0))]
    for rounding, is_known in ((0.002, True), (0.5, False)):
        moves = [replace(joint(name), rounding=rounding) for name in "bc"] + [joint("d")]
        c = cell(points, moves, start="a", bodies=far, pieces=NOZZLE, links=LINKS)
        (found,) = placement_tolerances(c, check(c).moves)
        assert bool(found.unknown) != is_known and np.isfinite(found.shift) == is_known


def test_contact_that_is_meant_is_named():
    sample = Path(__file__).parents[2] / "sample_cells"
    found = {}
    for name in ("gate_hinge", "hanging_rail"):
        c = load_cell(sample / name)
        roles = {b.name: b for b in c.bodies}
        found |= {t.body: (t, roles[t.body]) for t in placement_tolerances(c, check(c).moves)}
    for tolerance, standing in found.values():
        assert ("wire at the weld" in tolerance.excluded) == (standing.role is Role.PART)
        assert ("rail slide" in tolerance.excluded) == (standing.bears == "arm")
    said = " ".join(placement_lines(tuple(t for t, _ in found.values()), len(found)))
    assert "the wire at the weld not counted" in said and "neighbours are not judged" in said
    assert any(standing.bears == "arm" for _, standing in found.values())


def plain_tolerance(standing, moves):
    """Shift, turn, whether it is at least that, and what is nearest: one body after the other."""
    pairs = [p for move in moves for p in move.pairs if standing.name in (p.body, p.piece)]
    if not pairs:
        return None
    worst = min(pairs, key=lambda pair: (not pair.clearance.touches, pair.clearance.lower))
    shift = 0.0 if worst.clearance.touches else worst.clearance.lower
    farthest = max(float(np.linalg.norm(v)) for v in standing.mesh.vertices)
    turn = 2 * np.arcsin(min(1.0, shift / (2 * farthest)))
    other = worst.piece if worst.body == standing.name else worst.body
    return shift, turn, worst.clearance.is_capped, other


def random_moves(rng, track, names):
    """Moves whose pairs are far, near, touching, one within the other, and often just as near."""
    part = Stretch(float(track.t[0]), float(track.t[-1]), Zone.AIR)
    pieces = ("nozzle", "link 3", "wire", *names[:2])
    moves = []
    for _ in range(rng.integers(1, 5)):
        pairs = []
        for _ in range(rng.integers(0, 12)):
            lower = float(rng.choice([0.0, 0.004, 0.004, 0.02, 0.0499, rng.uniform(0, 0.04)]))
            inner = rng.choice([Inner.MOVING, Inner.STANDING]) if rng.random() < 0.05 else None
            lower = 0.0 if inner is not None else lower
            is_capped = lower == 0.0499
            upper = np.inf if is_capped else lower + 3e-4
            seen = Clearance(lower, upper, part.start, None, None, inner, is_capped)
            piece, name = (str(rng.choice(some)) for some in (pieces, names))
            if piece != name:
                pairs.append(PairClearance(track.number, piece, name, part, 0.01, seen, ()))
        moves.append(MoveClearance(track, tuple(pairs)))
    return tuple(moves)


@pytest.mark.parametrize("seed", range(60))
def test_one_pass_says_what_one_body_after_the_other_says(seed):
    rng = np.random.default_rng(seed)
    names = [f"block {k}" for k in range(6)]
    blocks = [body(box(rng.uniform(0.01, 0.2, 3)), name, at=(0, 0, -3.0 - k))
              for k, name in enumerate(names)]  # fmt: skip
    c = swinging(blocks)
    track = plan_program(c).tracks[0]
    for _ in range(5):
        moves = random_moves(rng, track, names)
        found = placement_tolerances(c, moves)
        plain = {b.name: plain_tolerance(b, moves) for b in c.bodies}
        assert {t.body for t in found} == set(names)
        for t in found:
            if plain[t.body] is None:
                assert t.unknown and np.isnan(t.shift)
                continue
            shift, turn, is_at_least, other = plain[t.body]
            assert not t.unknown and (t.shift, t.is_at_least, t.nearest) == (
                shift, is_at_least, other)  # fmt: skip
            assert t.turn == pytest.approx(turn, rel=1e-12)
        known = [t.shift for t in found if not t.unknown]
        assert known == sorted(known) and not any(t.unknown for t in found[: len(known)])


def test_what_is_not_known_of_places_is_no_tolerance_left():
    """Of 29 mm of room 5 may be gone already; a body known worse than its room has none."""
    away = tip(0.0) - tip(0.2)
    at = tip(0.0) + 0.08 * away / np.linalg.norm(away)
    plain = swinging([body(ball(0.03), at=at)])
    (before,) = placement_tolerances(plain, check(plain).moves)
    c = replace(plain, bodies=(replace(plain.bodies[0], known_to=0.005),))
    (found,) = placement_tolerances(c, check(c).moves)
    assert found.shift == pytest.approx(before.shift - 0.005, abs=1e-9)
    assert found.turn == pytest.approx(2 * np.arcsin(found.shift / 0.06), rel=0.01)
    assert "beyond the 5.0 mm its place is known to" in placement_lines((found,))[0]
    c = replace(plain, bodies=(replace(plain.bodies[0], known_to=0.03),))
    (found,) = placement_tolerances(c, check(c).moves)
    assert found.shift == found.turn == 0
    assert "may touch it: places known to 30.0 mm only" in placement_lines((found,))[0]

"""Who is measured, with which margin, what may touch, what is left out and said."""

import dataclasses
import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim.check import check
from pathsim.clearance.contact_rules import Zone, largest_own_margin, own_margin
from pathsim.clearance.joint_pairs import engine_pairs
from pathsim.clearance.left_out import left_out
from pathsim.clearance.obstacle import ARM_BASE, OWN_MARGIN
from pathsim.clearance.stretches import stays_near, stretches, wire_stretches
from pathsim.files import load_cell
from pathsim.findings import Level
from pathsim.model import Role, TorchPiece
from pathsim.motion import MoveCache, plan_program
from tests.builders import ball, body, box, cell, joint, linear, seam
from tests.clearance.at_home import HOME, at

SAMPLES = Path(__file__).parents[2] / "sample_cells"


def welding_cell(bodies=(), moves=None, **options):
    base = cell({"home": HOME}, [joint("home")])
    points = {
        "home": HOME,
        "above": at(base, [0.05, 0, -0.05]),
        "start": at(base, [0.05, 0, -0.15]),
        "end": at(base, [0.05, 0.08, -0.15]),
        "retract": at(base, [0.05, 0.08, -0.05]),
    }
    moves = moves or [
        joint("above"), linear("start"), seam("end"), linear("retract"), joint("home")
    ]  # fmt: skip
    return cell(points, moves, bodies=bodies, **options)


def short_cell():
    """Approach and retract are shorter than the wire."""
    base = welding_cell()
    points = {name: point.q for name, point in base.points.items()}
    points |= {"above": at(base, [0.05, 0, -0.142]), "retract": at(base, [0.05, 0.08, -0.143])}
    return cell(points, base.program.moves)


SHORT, SHORT_LAID = short_cell(), MoveCache()


def test_zones_of_a_welding_program():
    c = welding_cell()
    trajectory = plan_program(c)
    zones = [[part.zone for part in stretches(c, trajectory, t)] for t in trajectory.tracks]
    assert zones == [
        [Zone.AIR],
        [Zone.APPROACH, Zone.SEAM],
        [Zone.SEAM],
        [Zone.SEAM, Zone.APPROACH],
        [Zone.AIR],
    ]
    for track in trajectory.tracks:
        parts = stretches(c, trajectory, track)
        assert parts[0].start == track.t[0] and parts[-1].end == track.t[-1]
        for before, after in itertools.pairwise(parts):
            assert before.end == after.start


def test_margins_of_the_seam_hold_within_the_wires_own_length_of_it():
    c = welding_cell()
    trajectory = plan_program(c)
    track = trajectory.tracks[1]
    near = stretches(c, trajectory, track)[1]
    times = np.linspace(near.start, near.end, 200)
    tips = c.tips(track.q_at(times))
    far = np.linalg.norm(tips - c.tips(track.q[-1:]), axis=1)
    assert far.max() <= c.torch.wire_length
    assert far.max() > 0.9 * c.torch.wire_length


@given(st.floats(1e-3, 0.1), st.floats(0.05, 1.0), st.floats(0.0, 20.0))
@settings(max_examples=60, deadline=None)
def test_a_move_that_stays_within_the_wire_is_one_stretch_at_any_clock(speed, share, wait):
    """No sliver of rounding is left over behind it, where the wire would have to keep away."""
    c, moves = SHORT, SHORT.program.moves
    slow = tuple(dataclasses.replace(moves[k], speed=speed) for k in (1, 3))
    first = dataclasses.replace(moves[0], speed=share, wait=wait)
    program = dataclasses.replace(c.program, moves=(first, slow[0], moves[2], slow[1], moves[4]))
    c = dataclasses.replace(c, program=program)
    for laid in (None, SHORT_LAID):  # the same tracks at other clocks, too
        trajectory = plan_program(c, laid)
        for index in (1, 3):
            track = trajectory.tracks[index]
            (part,) = stretches(c, trajectory, track)
            assert (part.start, part.end, part.zone) == (track.t[0], track.t[-1], Zone.SEAM)


def test_a_joint_move_straight_from_the_weld_counts_as_air_behind_the_wire():
    moves = [joint("above"), linear("start"), seam("end"), joint("home")]
    c = welding_cell(moves=moves)
    trajectory = plan_program(c)
    parts = stretches(c, trajectory, trajectory.tracks[3])
    assert [part.zone for part in parts] == [Zone.SEAM, Zone.AIR]


def plate_under(c, role):
    tip = c.tips(c.points["start"].q[None])[0]
    return body(box((0.3, 0.3, 0.02), tip + [0, 0.04, -0.0095]), "plate", role)


def wire_pairs(result):
    return [p for m in result.moves for p in m.pairs if p.piece == "wire" and p.clearance.touches]


def test_the_wire_may_touch_the_part_but_not_the_fixture():
    c = welding_cell()
    pieces = (TorchPiece("nozzle", ball(0.004, (0, 0, 0.05))),)
    for role, expected in ((Role.PART, 0), (Role.FIXTURE, 3)):
        result = check(welding_cell([plate_under(c, role)], pieces=pieces))
        assert len(wire_pairs(result)) == expected, role
        assert result.has(Level.STOP) == (expected > 0)


def test_every_pair_is_measured_or_named():
    """Pieces times standing things on every stretch, except what the rules name."""
    c0 = welding_cell()
    links = [box((0.1, 0.1, 0.1))] * 7
    c = welding_cell([plate_under(c0, Role.PART), body(box(at=(0, 0, -2)), "floor")], links=links)
    result = check(c)
    trajectory = result.trajectory
    names = {b.name for b in c.bodies} | {ARM_BASE}
    for move in result.moves:
        for part in stretches(c, trajectory, move.track):
            expected = {(p.name, n) for p in c.pieces for n in names}
            expected -= {("link 1", ARM_BASE)}
            if part.zone is Zone.SEAM:
                expected -= {("wire", "plate")}
            got = {(p.piece, p.body) for p in move.pairs if p.stretch == part}
            assert got == expected
        of_move = stretches(c, trajectory, move.track)
        of_wire = wire_stretches(c, trajectory, move.track, of_move)
        expected = [part for part in of_wire if part.zone is Zone.SEAM]
        assert [p.stretch for p in move.wire] == expected
        assert {(p.piece, p.body) for p in move.wire} <= {("wire", "plate")}
    said = " ".join(item.what for item in left_out(c, trajectory))
    for words in (
        "the wire's last 5.0 mm against parts",
        "neighbouring links at their joint",
        "cables",
    ):
        assert words in said


def test_links_without_a_shape_are_said_loudly():
    result = check(welding_cell([body(box(at=(0, 0, -3)))]))
    lacking = [f for f in result.findings if f.kind == "not checked"]
    assert len(lacking) == 7
    assert all(f.level is Level.WATCH for f in lacking)
    assert not result.is_clear


def test_an_empty_cell_is_not_clear():
    links = [box((0.01,) * 3)] * 7
    result = check(welding_cell(links=links))
    assert any("no bodies" in f.text for f in result.findings)
    assert not result.is_clear


@pytest.mark.parametrize("inner", [True, False])
def test_inside_without_touching_is_contact(inner):
    tip = welding_cell().arm.pose(HOME)[:3, 3]
    size = 4.0 if inner else 0.001
    thing = body(box((size,) * 3, tip + ([0, 0, 0] if inner else [0, 0, -0.1])), "thing")
    shell = TorchPiece("shell", box((0.3, 0.3, 0.3), (0, 0, 0.1)))
    c = cell({"home": HOME, "b": HOME + 0.01}, [joint("b")], bodies=[thing], pieces=(shell,))
    result = check(c)
    (contact,) = [f for f in result.findings if f.piece == "shell"]
    assert contact.level is Level.STOP and "inside" in contact.text


def test_the_wire_left_inside_a_part_after_the_seam_is_found():
    """Where contact stops being allowed the wire may already be inside: no surface is crossed."""
    base = welding_cell()
    tip = base.tips(base.points["end"].q[None])[0]
    block = body(box((0.5, 0.5, 0.5), tip), "block", Role.PART)
    pieces = (TorchPiece("nozzle", ball(0.001, (0, 0, 0.0))),)
    c = welding_cell([block], pieces=pieces)
    found = [f for f in check(c).findings if f.piece == "wire" and f.move == 4]
    assert [f.level for f in found] == [Level.STOP]


def first_far(away, radius):
    """Which of some looks is the first at which something is farther away than ``radius``."""

    def first(start, step, count):
        far = away(start + step * np.arange(count)) > radius
        return int(np.argmax(far)) if far.any() else count

    return first


def test_where_the_tip_leaves_a_seam_is_where_looks_at_all_moments_say():
    """The looks stop at the first far one: as if all were looked at, from either end."""
    rng = np.random.default_rng(2)
    for _ in range(200):
        away = np.concatenate([[0.0], np.abs(np.cumsum(rng.normal(1.0, 6.0, 800)))])
        radius = float(rng.uniform(0, 60))
        far = away > radius
        last_near = int(np.argmax(far)) - 1 if far.any() else 800
        got = stays_near(
            first_far(lambda at, away=away: np.interp(at, np.arange(801), away), radius)
        )
        assert last_near <= got <= last_near + 1 and (got == last_near or last_near < 8)
        assert np.interp(got, np.arange(801), away) <= radius + 1e-9


def test_a_tip_that_is_gone_at_once_is_looked_at_closer():
    got = stays_near(first_far(lambda at: at * 0.1, 0.005))
    assert got == pytest.approx(0.05, abs=1 / 64)


@pytest.mark.parametrize("drawn", [False, True])
def test_no_margin_of_the_arm_against_itself_is_larger_than_the_largest(drawn):
    for name in ("gate_hinge", "turned_collar", "hanging_rail", "loose_cable"):
        c = load_cell(SAMPLES / name)
        if drawn:
            rng = np.random.default_rng(7)
            c = dataclasses.replace(c, links_drawn_to=tuple(rng.uniform(0, 0.004, c.arm.dof + 1)))
        pairs = engine_pairs(c, plan_program(c).tracks)
        most = max(own_margin(*pair) for pair in pairs)
        assert most <= largest_own_margin(c)
        assert (most > OWN_MARGIN) >= drawn

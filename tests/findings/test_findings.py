"""Numbers to findings: level, place in the program, and what the sentence says."""

import dataclasses

import numpy as np
import pytest

from pathsim.check import check
from pathsim.findings import Evidence, Level
from pathsim.findings.contact import contacts
from pathsim.findings.near_hit import near_hits
from pathsim.model import TorchPiece
from pathsim.transforms import frozen, inverse, translation
from tests.builders import body, box, cell, joint, linear, seam, shop_arm, sound

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])
LINKS = [box((0.01, 0.01, 0.01))] * 7
FLOOR = body(box((0.1, 0.1, 0.1), (0, 0, -3)), "floor")
NOZZLE = (TorchPiece("nozzle", box((0.02, 0.02, 0.2), (0, 0, 0.1))),)


def moved(arm, q, offset):
    c = cell({"home": q}, [joint("home")], arm=arm)
    goal = translation(offset) @ arm.pose(q) @ c.torch.T_flange_tcp
    found = arm.inverse(goal @ inverse(c.torch.T_flange_tcp))
    return found[np.argmin(np.abs(found - q).max(axis=1))]


def of_kind(result, kind):
    """Findings of a kind; of those about a pair only the nozzle's (the wire is thinner, longer)."""
    return [f for f in result.findings if f.kind == kind and f.piece in (None, "nozzle")]


def swing(gap, margin=0.01):
    """Joint 1 swings the nozzle past a post; its nearest edge stays ``gap`` away."""
    start, end = HOME - [0.4, 0, 0, 0, 0, 0], HOME + [0.4, 0, 0, 0, 0, 0]
    base = cell({"home": start, "end": end}, [joint("end")], pieces=NOZZLE)
    T = base.arm.pose(HOME)
    corners = np.array(
        [[x, y, z, 1] for x in (-0.01, 0.01) for y in (-0.01, 0.01) for z in (0, 0.2)]
    )
    far = np.hypot(*(T @ corners.T)[:2]).max()
    tip = T @ [0, 0, 0.19, 1]
    post = body(box((0.02, 0.02, 0.5), (far + 0.01 + gap, 0, tip[2])), "post")
    return cell(
        {"home": start, "end": end}, [joint("end")], pieces=NOZZLE, bodies=[post], links=LINKS,
        margins=(margin, 0.0015, 0.0015),
    )  # fmt: skip


def test_near_hit_says_how_near_and_where():
    result = check(swing(0.004))
    (finding,) = of_kind(result, "near-hit")
    assert finding.level is Level.WATCH
    assert (finding.piece, finding.body, finding.move) == ("nozzle", "post", 1)
    assert 0.0033 <= finding.numbers["clearance"] <= 0.0041
    assert "Nozzle to post: " in finding.text and "margin 10 mm" in finding.text
    track = result.trajectory.tracks[0]
    assert track.share(finding.time) == pytest.approx(0.5, abs=0.02)
    (span,) = finding.spans
    assert span.start < finding.time < span.end


def test_the_guaranteed_number_decides_not_the_one_seen():
    """Seen above the margin, guaranteed below it: that is too near."""
    result = check(swing(0.011))
    move = result.moves[0]
    (pair,) = [p for p in move.pairs if (p.piece, p.body) == ("nozzle", "post")]
    assert pair.clearance.upper > 0.0102
    low = dataclasses.replace(pair, clearance=dataclasses.replace(pair.clearance, lower=0.0099))
    evidence = Evidence(result.cell, result.trajectory, (dataclasses.replace(move, pairs=(low,)),))
    (finding,) = near_hits(evidence)
    assert finding.level is Level.WATCH and "9.9 mm guaranteed" in finding.text
    assert not list(contacts(evidence))


def test_enough_room_is_no_finding():
    assert of_kind(check(swing(0.011)), "near-hit") == []
    assert of_kind(check(swing(0.004, margin=0.003)), "near-hit") == []


def test_contact_is_one_finding_for_a_pair_that_touches_often():
    result = check(swing(-0.005))
    (finding,) = of_kind(result, "contact")
    assert finding.level is Level.STOP and not result.is_clear
    assert "touches the post" in finding.text
    assert "does not travel straight" in finding.text
    assert finding.time is not None and finding.spans


def test_levels_order_the_findings_and_decide_is_clear():
    result = check(swing(-0.005))
    ranks = [finding.level.rank for finding in result.findings]
    assert ranks == sorted(ranks)
    assert result.has(Level.STOP) and result.has(Level.NOTE)
    clear = check(sound(swing(0.3)))
    assert clear.is_clear and not clear.has(Level.WATCH)


def along(q, offset, *, speed=0.05, arm=None, arc=False):
    arm = arm or shop_arm()
    end = moved(arm, np.asarray(q), offset)
    move = seam("end", speed) if arc else linear("end", speed)
    return cell({"home": q, "end": end}, [move], bodies=[FLOOR], links=LINKS, arm=arm)


def test_wrist_zone_gives_angle_and_joint_speed():
    """Tip speed v square to the wrist's plane at d from its centre: q4' = v / (d sin q5)."""
    q = np.array([0.0, 0.3, 0.2, 0.0, np.radians(4.0), 0.0])
    result = check(along(q, [0, 0.004, 0], speed=0.01))
    (finding,) = of_kind(result, "wrist aligned")
    assert finding.level is Level.WATCH
    assert finding.numbers["angle"] == pytest.approx(np.radians(4.0), abs=np.radians(0.4))
    assert "Joints 4, 5 and 6 line up to" in finding.text and "deg/s" in finding.text


def test_far_from_alignment_there_is_no_zone():
    q = np.array([0.0, 0.3, 0.2, 0.0, np.radians(20.0), 0.0])
    assert of_kind(check(along(q, [0, 0.004, 0])), "wrist aligned") == []


def test_a_joint_move_through_alignment_is_only_a_note():
    q0, q1 = np.array([0, 0.3, 0.2, 0, 0.4, 0.0]), np.array([0, 0.3, 0.2, 0, -0.4, 0.0])
    moves = [joint("end"), joint("home")]
    c = cell({"home": q0, "end": q1}, moves, bodies=[FLOOR], links=LINKS)
    result = check(sound(c))
    finding, _ = of_kind(result, "wrist aligned")
    assert finding.level is Level.NOTE and finding.numbers["angle"] < np.radians(0.5)
    assert result.is_clear


def test_leap_through_alignment_stops():
    q = np.array([0.0, 0.2, 0.3, 0.0, 0.4, 0.0])
    end = np.array([0.0, 0.25, 0.2, 0.0, -0.3, 0.0])
    result = check(cell({"home": q, "end": end}, [linear("end")], bodies=[FLOOR], links=LINKS))
    assert {f.kind for f in result.findings if f.level is Level.STOP} >= {
        "joint leap", "wrist aligned"
    }  # fmt: skip
    assert "not checked" in of_kind(result, "joint leap")[0].text
    assert any("move 1 from" in item.what for item in result.left_out)


def test_out_of_reach_is_a_stop_that_says_what_was_not_checked():
    result = check(along(HOME, [0, 0, 0.0], speed=0.1))
    c = result.cell
    far = translation([2, 0, 0]) @ c.arm.pose(HOME) @ c.torch.T_flange_tcp
    points = {"home": c.points["home"], "end": dataclasses.replace(
        c.points["end"], q=None, T_base_tcp=frozen(far))}  # fmt: skip
    result = check(dataclasses.replace(c, points=points))
    (finding,) = of_kind(result, "out of reach")
    assert finding.level is Level.STOP and "not checked" in finding.text
    assert not result.is_clear


def test_joint_limits_past_and_near():
    limits = np.tile([-2.0, 2.0], (6, 1))
    past = cell(
        {"home": HOME, "end": [2.1, 0.2, 0.1, 0, 1.2, 0]}, [joint("end")],
        bodies=[FLOOR], links=LINKS, arm=shop_arm(limits),
    )  # fmt: skip
    (finding,) = of_kind(check(past), "joint limit")
    assert finding.level is Level.STOP
    assert "Joint 1 would have to go to 120.3 deg, past its limit of 114.6 deg" in finding.text
    near = cell(
        {"home": HOME, "end": [1.97, 0.2, 0.1, 0, 1.2, 0]}, [joint("end")],
        bodies=[FLOOR], links=LINKS, arm=shop_arm(limits),
    )  # fmt: skip
    (finding,) = of_kind(check(near), "joint limit")
    assert finding.level is Level.NOTE and "within 1.7 deg" in finding.text


@pytest.mark.parametrize(("arc", "level"), [(False, Level.WATCH), (True, Level.STOP)])
def test_joint_speed_over_its_limit(arc, level):
    slow = dataclasses.replace(shop_arm(), speed=frozen(np.full(6, 0.05)))
    result = check(along(HOME, [0, 0.2, 0], speed=0.5, arm=slow, arc=arc))
    (finding,) = of_kind(result, "joint speed")
    assert finding.level is level
    assert finding.numbers["needed"] > 2 * finding.numbers["limit"]
    assert finding.numbers["limit"] == pytest.approx(0.05)


def test_contradicting_point_stops():
    c = cell({"home": HOME}, [joint("home")], bodies=[FLOOR], links=LINKS)
    T = translation([0, 0.01, 0]) @ c.arm.pose(HOME) @ c.torch.T_flange_tcp
    point = dataclasses.replace(c.points["home"], T_base_tcp=frozen(T))
    (finding,) = of_kind(check(dataclasses.replace(c, points={"home": point})), "pose disagrees")
    assert finding.level is Level.STOP and "10.0 mm" in finding.text

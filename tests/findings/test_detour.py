"""Causes of what a joint move meets: held against a straight move that is sampled densely."""

from dataclasses import replace

import fcl
import numpy as np
import pytest
from scipy.spatial.transform import Rotation, Slerp

from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.joint_pairs import own_pairs
from pathsim.clearance.obstacle import OWN_MARGIN, obstacles
from pathsim.findings import FindingKind, Level, detour
from pathsim.findings.finding import Straight
from pathsim.model import Role
from tests.benchmarks.whole_scenes import many_bodies
from tests.builders import body, box, cell, joint, linear
from tests.findings.test_findings import swing

#: Below this an interval cannot be told from contact, m: the engine's tolerance, and a little.
TOLD = 6e-4
#: Farther than this is not told, m.
CAP = 0.05
HITS = (FindingKind.CONTACT, FindingKind.NEAR_HIT)
LESSON = "A joint move does not travel straight"


def straight_by_hand(c, q_start, q_end, count=400):
    """Joint values ``(count, dof)`` of a straight move, solved place by place; None if broken."""
    poses = c.arm.pose(np.stack([q_start, q_end])) @ c.torch.T_flange_tcp
    turns = Slerp([0, 1], Rotation.from_matrix(poses[:, :3, :3]))
    shares = np.linspace(0, 1, count)
    q, rows = q_start, []
    for share, turn in zip(shares, turns(shares).as_matrix(), strict=True):
        T = np.eye(4)
        T[:3, :3], T[:3, 3] = turn, (1 - share) * poses[0, :3, 3] + share * poses[1, :3, 3]
        found = c.arm.inverse(T @ np.linalg.inv(c.torch.T_flange_tcp))
        if len(found) == 0:
            return None
        gaps = np.abs(found - q).max(axis=1)
        if gaps.min() > 0.5:
            return None
        q = found[np.argmin(gaps)]
        rows.append(q)
    return np.array(rows)


def distances(c, rows):
    """Least distance of every pair of the cell over the rows, straight from python-fcl."""
    objects = {}

    def placed(mesh, T):
        if mesh not in objects:
            model = fcl.BVHModel()
            model.beginModel(len(mesh.vertices), len(mesh.faces))
            model.addSubModel(mesh.vertices, mesh.faces)
            model.endModel()
            objects[mesh] = fcl.CollisionObject(model, fcl.Transform())
        objects[mesh].setTransform(fcl.Transform(T[:3, :3], T[:3, 3]))
        return objects[mesh]

    things = [t for t in obstacles(c) if t.role is not None]
    least = {}
    for q in rows:
        links = c.T_world_base @ c.arm.link_poses(q)
        pairs = [(p, t, np.eye(4)) for p in c.arm_pieces for t in things]
        pairs += [(p, held, links[held.carrier]) for p, held in own_pairs(c)]
        for piece, thing, T in pairs:
            found = fcl.distance(placed(piece.mesh, links[piece.link]), placed(thing.mesh, T))
            names = piece.name, thing.name
            least[names] = min(least.get(names, np.inf), max(found, 0.0))
    return least


def random_cell(seed):
    """A joint move between two random postures, a box at random beside its tip's way."""
    rng = np.random.default_rng(seed)
    home = np.array([0.0, 0.3, 0.4, 0.1, 0.9, 0.0])
    a, b = home + rng.uniform(-0.5, 0.5, (2, 6))
    b[0] = a[0] + rng.choice([-1, 1]) * rng.uniform(0.5, 1.2)
    empty = cell({"a": a, "b": b}, [joint("b")], start="a")
    q = a + rng.uniform(0.3, 0.7) * (b - a)
    tip = empty.tool_poses(q[None])[0, :3, 3]
    size = rng.uniform(0.03, 0.25, 3)
    block = body(box(size), "block", Role.CLAMP, tip + rng.uniform(-0.06, 0.06, 3))
    return cell({"a": a, "b": b}, [joint("b")], start="a", bodies=[block]), a, b


def test_what_is_said_of_the_straight_move_holds_in_dense_sampling():
    said = {"clears": 0, "touches": 0, "cannot": 0}
    for seed in range(60):
        c, a, b = random_cell(seed)
        findings = [f for f in check(c).findings if f.kind == FindingKind.CONTACT]
        if not findings:
            continue
        straight = findings[0].straight
        assert all(f.straight == straight for f in findings)
        rows = straight_by_hand(c, a, b)
        has_lesson = any(LESSON in f.text for f in findings)
        if straight.why_not:
            assert rows is None and not has_lesson
            said["cannot"] += 1
            continue
        assert rows is not None
        least = distances(c, rows)
        if straight.lower > 0:
            assert min(least.values()) >= straight.lower
            is_capped = straight.lower >= CAP - 1e-6
            assert is_capped or least[straight.piece, straight.body] <= straight.lower + 2e-3
            assert all("A straight move would clear" in f.text for f in findings)
            said["clears"] += 1
        else:
            assert least[straight.piece, straight.body] <= TOLD
            assert not has_lesson
            assert all("A straight move would touch too" in f.text for f in findings)
            said["touches"] += 1
    assert said["clears"] >= 5 and said["touches"] >= 5, said


def test_both_engines_give_one_cause():
    for seed in (0, 3, 8):
        c, _, _ = random_cell(seed)
        fast, plain = check(c), check(c, engine=ReferenceEngine(c))
        for one, other in zip(fast.findings, plain.findings, strict=True):
            assert (one.straight is None) == (other.straight is None)
            if one.straight is not None:
                assert (one.straight.lower > 0) == (other.straight.lower > 0)
                assert one.straight.why_not == other.straight.why_not


def test_the_lesson_is_said_where_the_straight_line_clears():
    (finding,) = [f for f in check(swing(-0.005)).findings if f.kind == FindingKind.CONTACT]
    assert LESSON in finding.text and "A straight move would clear" in finding.text


def test_a_straight_move_is_not_asked_for_where_a_move_is_straight():
    c = swing(-0.005)
    a, b = (c.points[name].q for name in (c.program.start, c.program.moves[0].target))
    tips = c.tool_poses(np.stack([a, b]))[:, :3, 3]
    block = body(box((0.04, 0.04, 0.04)), "block", Role.CLAMP, tips.mean(axis=0))
    straight = cell({"a": a, "b": b}, [linear("b")], start="a", bodies=[block])
    found = [f for f in check(straight).findings if f.level is Level.STOP]
    assert found and all(f.straight is None and LESSON not in f.text for f in found)


@pytest.mark.parametrize("height", [0.10, 0.02])
def test_leaving_sideways_is_told_with_heights_that_are_measured(height):
    """A wall beside the start, so high that no straight way sideways clears it."""
    q = np.array([0.0, 0.3, 0.6, 0.0, 0.7, 0.0])
    empty = cell({"a": q, "b": q}, [joint("b")], start="a")
    tip = empty.tool_poses(q[None])[0, :3, 3]
    end = q + np.array([0.6, 0, 0, 0, 0, 0])
    wall_at = tip + [-0.02, 0.15, height / 2]
    wall = body(box((0.3, 0.02, 0.4 + height)), "wall", Role.CLAMP, wall_at - [0, 0, 0.2])
    plate = body(box((0.1, 0.1, 0.01)), "plate", Role.FIXTURE, tip - [0, 0, 0.010 + 0.005])
    c = cell({"a": q, "b": end}, [joint("b")], start="a", bodies=[wall, plate])
    found = [f for f in check(c).findings if f.kind == FindingKind.CONTACT]
    assert found
    size, over = f"{400 + 1e3 * height:.0f} mm", f"{1e3 * height:.0f} mm"
    for finding in found:
        assert "leaves 'a', 10 mm above the plate, sideways: " in finding.text
        assert f"The wall is {size} high, its top {over} above 'a'." in finding.text
        assert "A straight move would touch too" in finding.text and LESSON not in finding.text


def test_a_near_hit_has_the_detour_as_its_cause_only_where_straight_keeps_the_margin():
    assert Straight("", "neck", "post", 0.002, 0.0015).serves(touched=False)
    assert not Straight("", "neck", "post", 0.001, 0.0015).serves(touched=False)
    assert Straight("", "neck", "post", 0.001, 0.0015).serves(touched=True)
    assert not Straight("", "neck", "post", 0.0, 0.0015).serves(touched=True)
    assert not Straight("out of reach").serves(touched=True)


def test_straights_of_a_whole_program_are_those_of_its_moves_alone():
    """All are measured in one question: none may get the answer of another."""
    c, a, b = random_cell(0)
    rng = np.random.default_rng(8)
    points = {f"p{k}": (a if k % 2 else b) + rng.uniform(-0.3, 0.3, 6) for k in range(10)}
    names = list(points)
    blocks = list(c.bodies)
    whole = cell(points, [joint(n) for n in names[1:]], start=names[0], bodies=blocks)
    of_moves = {f.move: f.straight for f in check(whole).findings if f.kind in HITS}
    assert len({(s.piece, s.body, s.lower, s.why_not) for s in of_moves.values()}) == 5
    for number, straight in of_moves.items():
        start, target = names[number - 1], names[number]
        ends = {name: points[name] for name in (start, target)}
        alone = check(cell(ends, [joint(target)], start=start, bodies=blocks)).findings
        assert {f.straight for f in alone if f.kind in HITS} == {straight}


@pytest.mark.parametrize("air", [0.01, 0.0015])
def test_straights_that_touch_something_need_not_be_measured_against_the_arm(monkeypatch, air):
    """With a margin below the arm's own, a contact of the arm with itself may be the worse one."""
    c = many_bodies(24, 12)
    c = replace(c, margins=replace(c.margins, air=air, approach=air, seam=min(air, c.margins.seam)))
    asked = []
    measure = detour.bounds_of_each

    def watched(*of, arm_too=True):
        asked.append((arm_too, len(of[2])))
        return measure(*of, arm_too=arm_too)

    monkeypatch.setattr(detour, "bounds_of_each", watched)

    def straights():
        asked.clear()
        return {(f.move, f.piece, f.body): f.straight for f in check(c).findings if f.straight}

    quickly = straights()
    (scene, laid), (whole, left) = asked
    assert not scene and whole and laid >= 5
    assert (left < laid) == (air > OWN_MARGIN)
    monkeypatch.setattr(detour, "largest_own_margin", lambda _: np.inf)
    wholly = straights()
    assert asked == [(False, laid), (True, laid)]
    assert quickly == wholly
    assert len({(s.piece, s.body) for s in wholly.values()}) >= 3

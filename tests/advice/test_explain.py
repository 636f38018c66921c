"""Reasons: the numbers in the sentences are those of the check, and of plain differences."""

import ast
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.advice.explain import _what_drives, driving_shares, explain
from pathsim.advice.rule_texts import RULES
from pathsim.check import check
from pathsim.clearance.contact_rules import Zone
from pathsim.clearance.joint_pairs import own_pairs
from pathsim.clearance.obstacle import obstacles
from pathsim.files import load_cell
from pathsim.findings import Finding, FindingKind, Level
from pathsim.model import Point
from pathsim.motion.trajectory import FaultKind, MoveFault
from pathsim.transforms import frozen, inverse, translation
from pathsim.units import degrees, millimetres, percent
from tests.clearance.folding_arm import folding
from tests.clearance.oracle import dense_distances
from tests.findings.test_findings import swing

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture(scope="module")
def clip():
    return check(load_cell(SAMPLES / "gate_hinge_no_retract"))


def test_a_hit_on_a_joint_move_is_told_with_its_numbers(clip):
    finding = clip.findings[0]
    track = clip.trajectory.tracks[finding.move - 1]
    text = " ".join(explain(clip, finding))
    tips = clip.cell.tool_poses(track.q)[:, :3, 3]
    assert millimetres(float(np.linalg.norm(tips[-1] - tips[0])), 0) in text
    way = np.linalg.norm(np.diff(tips, axis=0), axis=1).sum()
    assert millimetres(float(way), 0) in text
    assert "neck" in text and "left clamp" in text
    # Straight it would have hit as well: the detour is not the cause, and is not told as one.
    assert "A straight move would touch too: nozzle and left clamp." in text
    assert "does not follow that line" not in text and "off the line" not in text


def test_a_detour_that_is_the_cause_is_told_with_its_numbers():
    """The tip of a swing about joint 1 runs into a post that the straight line passes."""
    result = check(swing(-0.005))
    finding = next(f for f in result.findings if f.kind == "contact")
    track = result.trajectory.tracks[finding.move - 1]
    text = " ".join(explain(result, finding))
    assert millimetres(track.detour, 0) in text
    assert "does not follow that line" in text and "off the line" in text
    assert "A straight move would clear" in text


def test_a_joint_that_hardly_turns_is_not_the_cause(clip):
    """Of a creep most is no cause: only a turn that a person can see is told."""
    finding = clip.findings[0]
    track = clip.trajectory.tracks[finding.move - 1]
    pair = next(p for p in clip.moves[finding.move - 1].pairs if p.clearance.touches)
    assert _what_drives(clip.cell, pair, track, finding.time)
    slow = 0.01 * (track.q - track.q[0]) + track.q_at(finding.time)[0]
    creep = replace(track, q=slow)
    assert driving_shares(clip.cell, creep, finding.time, pair).max() > 0.5
    assert _what_drives(clip.cell, pair, creep, finding.time) == []


def test_the_joint_that_drives_it_against_plain_differences(clip):
    """Move one joint alone by a little and see how far the place goes."""
    finding = clip.findings[0]
    track = clip.trajectory.tracks[finding.move - 1]
    pair = next(p for p in clip.moves[finding.move - 1].pairs if p.clearance.touches)
    time, place = pair.clearance.time, pair.clearance.on_moving
    shares = driving_shares(clip.cell, track, time, pair)
    piece = next(p for p in clip.cell.pieces if p.name == pair.piece)
    q = track.q_at(time)[0]
    rate = (track.q_at(time + 1e-4)[0] - track.q_at(time - 1e-4)[0]) / 2e-4
    T = clip.cell.link_poses(q[None])[0, piece.link]
    in_link = inverse(T) @ np.append(place, 1.0)
    sizes = []
    for k in range(len(q)):
        moved = q.copy()
        moved[k] += 1e-6
        there = clip.cell.link_poses(moved[None])[0, piece.link] @ in_link
        sizes.append(np.linalg.norm(there[:3] - place) / 1e-6 * abs(rate[k]))
    assert np.allclose(shares, np.array(sizes) / np.sum(sizes), atol=1e-3)
    driver = clip.cell.axes.names[int(np.argmax(shares))]
    text = " ".join(explain(clip, finding))
    assert f"{driver.capitalize()} does most of it" in text
    assert f"{percent(float(shares.max()))} of the " in text and "causes" in text


def test_what_is_guaranteed_is_said_of_the_part_of_the_move_for_which_it_holds():
    """Held against dense sampling: the wire touches the post at the weld, where that is meant."""
    said = {"over the whole move": 0, "while the tip is farther": 0}
    for margin in (0.010, 0.045):
        cell = load_cell(SAMPLES / "gate_hinge_no_retract")
        result = check(replace(cell, margins=replace(cell.margins, air=margin)))
        things = {thing.name: thing for thing in obstacles(result.cell)}
        ends = np.stack([cell.points[name].q for name in ("weld start", "weld end")])
        welds = cell.tool_poses(ends)[:, :3, 3]
        for finding in (f for f in result.findings if f.kind == "near-hit"):
            track = result.trajectory.tracks[finding.move - 1]
            text = " ".join(explain(result, finding))
            ((kept, part),) = re.findall(r"([\d.]+) mm are guaranteed (\w+ the \w+ \w+ ?\w*)", text)
            piece = next(p for p in result.cell.pieces if p.name == finding.piece)
            times, seen = dense_distances(
                result.cell, track, piece, things[finding.body], (track.t[0], track.t[-1]), 600
            )
            if part.startswith("while"):
                tips = result.cell.tool_poses(track.q_at(times))[:, :3, 3]
                away = np.linalg.norm(tips[:, None] - welds, axis=2).min(axis=1)
                seen = seen[away > result.cell.torch.wire_length]
            assert float(kept) <= 1e3 * seen.min(), finding.text
            said[part.rstrip(",")] += 1
    assert all(said.values())


def test_a_touch_is_explained_as_a_touch_where_the_same_pair_is_near_elsewhere(clip):
    """A touch by the weld, where 1.5 mm is asked for, and a near hit in the air, where 10 is."""
    finding = clip.findings[0]
    move = clip.moves[finding.move - 1]
    pair = next(p for p in move.pairs if p.clearance.touches)
    shortest = replace(pair.stretch, zone=Zone.SEAM)
    touch = replace(pair, stretch=shortest, margin=0.001)
    near = replace(pair, margin=0.010, clearance=replace(pair.clearance, lower=0.004, upper=0.0043))
    moves = list(clip.moves)
    moves[finding.move - 1] = replace(move, pairs=(near, touch))
    text = " ".join(explain(replace(clip, moves=tuple(moves)), finding))
    assert "there is none left" in text and "are guaranteed" not in text


def relative_shares(result, track, time, pair, standing):
    """Move one axis alone by a little and see how far the place goes against the other thing."""
    cell = result.cell
    piece = next(p for p in cell.pieces if p.name == pair.piece)

    def seen_from_it(q, in_link):
        links = cell.link_poses(q[None])[0]
        frame = np.eye(4)
        if standing.carrier is not None:
            frame = links[standing.carrier]
        elif standing.on_table:
            frame = cell.table_motion(q[None])[0]
        return (inverse(frame) @ links[piece.link] @ in_link)[:3]

    q = track.q_at(time)[0]
    span = 1e-4 * track.duration
    rate = track.q_at(time + span)[0] - track.q_at(time - span)[0]
    T = cell.link_poses(q[None])[0, piece.link]
    in_link = inverse(T) @ np.append(pair.clearance.on_moving, 1.0)
    sizes = []
    for k in range(len(q)):
        moved = q.copy()
        moved[k] += 1e-6
        there, here = seen_from_it(moved, in_link), seen_from_it(q, in_link)
        sizes.append(np.linalg.norm(there - here) / 1e-6 * abs(rate[k]))
    return np.array(sizes) / np.sum(sizes)


def test_what_turns_with_the_table_is_driven_by_the_table_too():
    """The torch stands and the table brings the stop to it: no joint of the arm does that."""
    result = check(load_cell(SAMPLES / "turned_collar"))
    track = result.trajectory.tracks[2]
    pairs = [p for p in result.moves[2].pairs
             if p.body == "left stop" and p.clearance.on_moving is not None]  # fmt: skip
    pair = next(p for p in pairs if p.piece == "nozzle")
    standing = next(t for t in obstacles(result.cell) if t.name == pair.body)
    time = track.t[0] + 0.4 * track.duration
    shares = driving_shares(result.cell, track, time, pair)
    assert np.allclose(shares, relative_shares(result, track, time, pair, standing), atol=2e-2)
    assert shares[-1] > 0.5


def test_the_arm_against_itself_is_driven_only_by_the_joints_between():
    result = check(folding([0.3, 0.1, 2.6, 0.3, 0.9, 0.4]))
    finding = next(f for f in result.findings if f.kind == "contact")
    track = result.trajectory.tracks[0]
    pair = next(p for p in result.moves[0].own if p.clearance.touches
                and (p.piece, p.body) == (finding.piece, finding.body))  # fmt: skip
    held = next(h for _, h in own_pairs(result.cell) if h.name == pair.body)
    shares = driving_shares(result.cell, track, finding.time, pair)
    assert np.allclose(shares[: held.carrier], 0.0)
    assert np.allclose(shares, relative_shares(result, track, finding.time, pair, held), atol=1e-2)


def test_a_rule_promises_no_cure_that_the_finding_denies():
    """Where a twist would not help, the finding says so; the rule must not say that it does."""
    result = check(load_cell(SAMPLES / "wrist_in_line"))
    finding = result.findings[0]
    text = " ".join(explain(result, finding)[1:])
    assert "twist" in text and "takes the wrist out of line and" not in text
    assert "often" in text


def test_a_move_that_breaks_off_is_not_said_to_be_looked_at_whole():
    cell = load_cell(SAMPLES / "gate_hinge_no_retract")
    result = check(cell)
    finding = result.findings[0]
    tracks = list(result.trajectory.tracks)
    track = tracks[finding.move - 1]
    fault = MoveFault(FaultKind.REACH, 0.9)
    tracks[finding.move - 1] = replace(track, fault=fault)
    broken = replace(result, trajectory=replace(result.trajectory, tracks=tuple(tracks)))
    assert "The whole move is checked" in " ".join(explain(result, finding))
    text = " ".join(explain(broken, finding))
    assert "whole move" not in text and "first 90 % of the move" in text


def test_a_wrist_in_line_is_told_with_the_sine_of_its_angle():
    result = check(load_cell(SAMPLES / "wrist_in_line"))
    finding = result.findings[0]
    angle = finding.numbers["angle"]
    text = " ".join(explain(result, finding))
    assert degrees(angle) in text
    assert f"{1 / np.sin(angle):.0f} deg of joint 4" in text


def test_every_finding_of_every_sample_cell_has_a_reason():
    for path in SAMPLES.glob("*/cell.yaml"):
        result = check(load_cell(path.parent))
        for finding in result.findings:
            said = explain(result, finding)
            assert said[0] == finding.text
            assert len(said) > 1, finding.kind


def test_every_kind_of_finding_has_a_rule_and_is_made_somewhere():
    """The kinds are those that some file of findings names, and each has its rule."""
    import pathsim

    root = Path(pathsim.__file__).parent / "findings"
    named = set()
    for path in root.glob("*.py"):
        if path.name == "kinds.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and getattr(node.value, "id", "") == "FindingKind":
                named.add(FindingKind[node.attr])
    assert named == set(FindingKind) == set(RULES)


def test_a_limit_is_told_with_its_range_and_how_far_past():
    cell = load_cell(SAMPLES / "gate_hinge")
    upper = cell.arm.upper.copy()
    upper[0] = np.radians(50.0)
    arm = replace(cell.arm, upper=frozen(upper))
    result = check(replace(cell, arm=arm))
    finding = next(f for f in result.findings if f.kind == "joint limit")
    text = " ".join(explain(result, finding))
    assert "to 50.0 deg" in text and "10.0 deg past the limit" in text
    assert "from 60.0 deg to -7.8 deg" in text


def test_a_speed_is_told_as_a_multiple():
    cell = load_cell(SAMPLES / "gate_hinge")
    result = check(replace(cell, arm=replace(cell.arm, speed=frozen(0.04 * cell.arm.speed))))
    finding = next(f for f in result.findings if f.kind == "joint speed")
    text = " ".join(explain(result, finding))
    assert (
        f"asked to travel at {1e3 * result.cell.program.moves[finding.move - 1].speed:.0f} mm/s"
        in text
    )
    needed, limit = finding.numbers["needed"], finding.numbers["limit"]
    assert f"{needed / limit:.2f} times the {degrees(limit, 0)}/s" in text


def test_where_a_move_breaks_off_is_told_by_plain_geometry():
    cell = load_cell(SAMPLES / "gate_hinge")
    T = translation([0.0, 3.0, 0.0]) @ inverse(cell.T_world_base)
    far = T @ cell.tool_poses(cell.points["retract"].q[None])[0]
    points = {**cell.points, "retract": Point("retract", None, frozen(far))}
    result = check(replace(cell, points=points))
    finding = next(f for f in result.findings if f.kind == "joint leap")
    track = result.trajectory.tracks[finding.move - 1]
    tip = cell.tool_poses(track.q[-1:])[0, :3, 3]
    goal = (cell.T_world_base @ far)[:3, 3]
    text = " ".join(explain(result, finding))
    assert f"{millimetres(float(np.linalg.norm(goal - tip)), 0)} before 'retract'" in text


def test_a_zone_names_the_joint_that_works_hardest():
    """Numbers of a made-up finding on a real move: the hardest joint at the moment it names."""
    result = check(load_cell(SAMPLES / "gate_hinge"))
    track = result.trajectory.tracks[1]
    k = len(track.t) // 2
    time = float(track.t[k] + track.t[k + 1]) / 2
    numbers = {"measure": 0.05, "joint speed share": 0.5}
    finding = Finding(Level.NOTE, "elbow stretched", "t", 2, time, numbers=numbers)
    speed = np.abs(track.q_at(time + 1e-5) - track.q_at(time - 1e-5))[0] / 2e-5
    hardest = int(np.argmax(speed / result.cell.axes.speed))
    text = " ".join(explain(result, finding))
    assert f"{result.cell.axes.names[hardest]} works hardest" in text

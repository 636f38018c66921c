"""Changes of the cell where no point helps: each holds by the other engine, and is no more."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pathsim.advice import Evaluator, advise
from pathsim.advice.advise import advise_on
from pathsim.advice.cell_cures import cell_cures
from pathsim.advice.cell_proposal import CellChange, CellChangeKind
from pathsim.advice.cell_trial import MOST_CHECKED, Looked, checked_cell, first_that_serves
from pathsim.advice.checked import checked
from pathsim.advice.clamps import STEP, Hold, moved_clamps
from pathsim.advice.compare import cured, worsened
from pathsim.advice.kinds import NEAR
from pathsim.advice.never import blocked_at_a_weld
from pathsim.advice.other_kind import another_kind, is_beside_weld, of_another_kind
from pathsim.advice.taught_anew import other_program_postures, seam_of
from pathsim.files import load_cell
from pathsim.findings.weld_places import weld_points
from pathsim.model import Body, MoveKind, Role
from pathsim.motion import plan_program
from pathsim.session import Session
from pathsim.transforms import frozen, translation
from tests.advice.clamps import with_clamp_in_the_way
from tests.advice.test_advise import SAMPLES, by_reference, grave
from tests.benchmarks.hard_planner import Sampler
from tests.builders import box

NONE_CHANGED = range(100)


@pytest.fixture(scope="module")
def narrow():
    """The right clamp so near to the seam that the torch hits it with the arc on."""
    cell = load_cell(SAMPLES / "gate_hinge")
    seam = replace(cell.program.moves[2], weave=None)
    bodies = tuple(
        replace(b, T_world_body=translation([0.0, 0.0, 0.0]) @ b.T_world_body) for b in cell.bodies
    )
    moves = (*cell.program.moves[:2], seam, *cell.program.moves[3:])
    program = replace(cell.program, moves=moves)
    tip = plan_program(replace(cell, program=program)).tracks[2]
    place = cell.tool_poses(tip.q[len(tip.q) // 2][None])[0]
    # Beside the neck, half way along the seam, and standing on what the part lies on.
    at = place[:3, 3] - 0.12 * place[:3, 2] + np.array([0.0, 0.0, -0.04])
    clamp = Body("post clamp", Role.CLAMP, box((0.02, 0.02, 0.16)), frozen(translation(at)))
    cell = replace(cell, bodies=(*bodies, clamp), program=program)
    evaluator = Evaluator(cell, Session())
    hits = [k for k, f in enumerate(evaluator.before.findings)
            if f.body == "post clamp" and f.move == 3]  # fmt: skip
    return evaluator, advise(evaluator), hits


def test_a_clamp_in_the_way_of_a_seam_is_moved_no_farther_than_it_must(narrow):
    evaluator, advice, hits = narrow
    assert hits
    one = next(a for a in advice if a.number == hits[0] + 1)
    assert one.never and not one.proposals
    moved = next(p for p in one.of_cell if p.change.kind is CellChangeKind.CLAMP_MOVED)
    old, new = evaluator.cell.bodies[-1], moved.change.cell.bodies[-1]
    way = new.T_world_body[:3, 3] - old.T_world_body[:3, 3]
    far = float(np.linalg.norm(way))
    assert f"Move the post clamp {1e3 * far:.0f} mm towards" in moved.change.text
    assert moved.change.cell.program is evaluator.cell.program
    assert not moved.change.points
    after = by_reference(moved.change.cell)
    assert one.finding in cured(evaluator.before.findings, after.findings, NONE_CHANGED)
    assert not worsened(evaluator.before.findings, after.findings, NONE_CHANGED)
    # One step less, in any of the four ways, the other engine still finds it too near.
    for off in np.vstack([np.eye(3)[:2], -np.eye(3)[:2]]) * (far - STEP):
        there = replace(old, T_world_body=translation(off) @ old.T_world_body)
        cell = replace(evaluator.cell, bodies=(*evaluator.cell.bodies[:-1], there))
        again = by_reference(cell)
        assert worsened(evaluator.before.findings, again.findings, NONE_CHANGED) or any(
            f.body == "post clamp" for f in grave(again)
        )


def test_another_torch_angle_leaves_the_wire_s_end_where_it_is():
    """The sample's cable meets a clamp all along the seam; a turn about the wire takes it away."""
    evaluator = Evaluator(load_cell(SAMPLES / "loose_cable"), Session())
    finding = next(f for f in evaluator.before.findings if f.kind == "contact")
    found, _ = cell_cures(evaluator, finding)
    (proposal,) = [p for p in found if p.change.kind is CellChangeKind.TORCH_ANGLE]
    cell = proposal.change.cell
    assert {"weld start", "weld end"} == set(proposal.change.points)
    for name, q in proposal.change.points.items():
        old, new = cell.tool_poses(np.stack([evaluator.cell.points[name].q, q]))
        assert np.allclose(old[:3, 3], new[:3, 3], atol=1e-6)
        assert np.allclose(old[:3, 2], new[:3, 2], atol=1e-6)  # about the wire: it stays
        # Seen along the wire the torch goes as its words say.
        turn = np.arctan2(old[:3, 2] @ np.cross(old[:3, 0], new[:3, 0]), old[:3, 0] @ new[:3, 0])
        way = "clockwise" if turn > 0 else "anticlockwise"
        assert f"{abs(np.degrees(turn)):.0f} deg about its wire" in proposal.change.text
        assert f", {way} seen along the wire" in proposal.change.text
    after = by_reference(cell)
    assert finding in cured(evaluator.before.findings, after.findings, NONE_CHANGED)
    assert not worsened(evaluator.before.findings, after.findings, NONE_CHANGED)


def test_a_change_that_leaves_a_clamp_in_the_air_is_none(narrow):
    """It would clear everything; nothing carries it there."""
    evaluator, _, hits = narrow
    finding = evaluator.before.findings[hits[0]]
    clamp = evaluator.cell.bodies[-1]
    high = replace(clamp, T_world_body=translation([0, 0, 1.5]) @ clamp.T_world_body)
    cell = replace(evaluator.cell, bodies=(*evaluator.cell.bodies[:-1], high))
    change = CellChange(CellChangeKind.CLAMP_MOVED, "up", cell)
    after = evaluator.session.check(cell)
    is_worse = worsened(evaluator.before.findings, after.findings, NONE_CHANGED)
    assert bool(is_worse) == (checked_cell(evaluator, change, finding) is None)
    assert is_worse


def test_what_changes_nothing_is_no_cure_and_a_search_says_how_far_it_came(narrow):
    evaluator, _, hits = narrow
    finding = evaluator.before.findings[hits[0]]
    same = [CellChange(CellChangeKind.HOME, "as it is", replace(evaluator.cell, name=str(k)))
            for k in range(MOST_CHECKED)]  # fmt: skip
    assert first_that_serves(evaluator, finding, []) == (None, Looked.NOTHING)
    assert first_that_serves(evaluator, finding, [None, None]) == (None, Looked.ALL)
    assert first_that_serves(evaluator, finding, [None, same[0]]) == (None, Looked.ALL)
    assert first_that_serves(evaluator, finding, same) == (None, Looked.SOME)


def test_only_what_there_is_to_try_is_said_to_have_been_tried():
    """No clamp in the deep channel, and nothing about a home that is far from the hit."""
    evaluator = Evaluator(load_cell(SAMPLES / "deep_channel"), Session())
    number = next(k for k, f in enumerate(evaluator.before.findings) if f.kind == "contact")
    found, tried = cell_cures(evaluator, evaluator.before.findings[number])
    said = " ".join(tried)
    assert not found and "tilting" in said
    assert "clamp" not in said and "home" not in said and "moving" not in said
    note = next((f for f in evaluator.before.findings if f.kind == "program habit"), None)
    assert note is None or cell_cures(evaluator, note) == ((), ())


def test_another_posture_of_the_program_reaches_the_same_places(monkeypatch):
    evaluator = Evaluator(load_cell(SAMPLES / "gate_hinge"), Session())
    monkeypatch.setattr("pathsim.advice.taught_anew.moves_are_clear", lambda *_: True)
    found = list(other_program_postures(evaluator))
    assert found
    cell = evaluator.cell
    for change in found:
        assert cell.program.start not in change.points
        assert weld_points(cell) <= set(change.points)
        for name, q in change.points.items():
            poses = cell.tool_poses(np.stack([cell.points[name].q, q]))
            assert np.allclose(poses[0], poses[1], atol=1e-6)
            assert np.abs(q - cell.points[name].q).max() > np.radians(5)
            assert (cell.axes.room(q) >= 0).all()


def test_a_home_too_near_to_something_is_taught_elsewhere():
    """No retract helps where the first posture itself is too near."""
    cell = load_cell(SAMPLES / "gate_hinge")
    T = cell.tool_poses(cell.points["home"].q[None])[0]
    at = T[:3, 3] - np.array([0.0, 0.0, 0.035])
    post = Body("rack", Role.OTHER, box((0.05, 0.05, 0.06)), frozen(translation(at)))
    cell = replace(cell, bodies=(*cell.bodies, post))
    evaluator = Evaluator(cell, Session())
    mine = [f for f in grave(evaluator.before) if f.body == "rack"]
    assert mine
    advice = [a for a in advise(evaluator) if a.finding in mine and not a.proposals]
    assert advice
    homes = [p for a in advice for p in a.of_cell if p.change.kind is CellChangeKind.HOME]
    assert homes
    for home in homes:
        assert list(home.change.points) == ["home"]
        after = by_reference(home.change.cell)
        assert not worsened(evaluator.before.findings, after.findings, NONE_CHANGED)
        assert not [f for f in grave(after) if f.body == "rack" and f in home.cures]


@pytest.fixture(scope="module")
def straight_home():
    """The way to the approach point is straight, through a small block; a joint move goes past."""
    cell = load_cell(SAMPLES / "gate_hinge")
    joint, *rest = cell.program.moves
    straight = replace(joint, kind=MoveKind.LINEAR, speed=0.1, rounding=0.0)
    tracks = [
        plan_program(replace(cell, program=replace(cell.program, moves=(m, *rest)))).tracks[0]
        for m in (straight, joint)
    ]
    tips = [cell.tool_poses(t.q_at(np.linspace(t.t[0], t.t[-1], 201)))[:, :3, 3] for t in tracks]
    off = np.array([np.linalg.norm(tips[1] - p, axis=1).min() for p in tips[0]])
    at = tips[0][int(np.argmax(off))]
    block = Body("block", Role.OTHER, box((0.04, 0.04, 0.04)), frozen(translation(at)))
    cell = replace(cell, bodies=(*cell.bodies, block),
                   program=replace(cell.program, moves=(straight, *rest)))  # fmt: skip
    return Evaluator(cell, Session()), off.max()


def test_a_joint_move_for_a_straight_one_is_checked_as_any_change(straight_home):
    evaluator, _ = straight_home
    track = evaluator.before.trajectory.tracks[0]
    finding = next(f for f in grave(evaluator.before) if f.body == "block" and f.move == 1)
    (taught,) = of_another_kind(evaluator, track)
    assert taught.kind == "joint" and "by a joint move at 40 % in place" in taught.words
    proposal = checked(evaluator, taught.kind, taught.words, taught.change, finding)
    assert proposal is not None
    after = by_reference(proposal.after.cell)
    assert not [f for f in grave(after) if f.body == "block" and f.move == 1]
    assert after.trajectory.tracks[0].move.kind is MoveKind.JOINT


def test_legs_by_a_weld_stay_straight_and_seams_what_they_are(straight_home):
    evaluator, _ = straight_home
    tracks = evaluator.before.trajectory.tracks
    kinds = [another_kind(t, beside_weld=is_beside_weld(evaluator, t)) for t in tracks]
    assert kinds == [MoveKind.JOINT, None, None, None, MoveKind.LINEAR]
    assert [seam_of(tracks, k) for k in range(5)] == [None, (2, 2), (2, 2), (2, 2), None]


def test_a_clamp_says_whether_its_pad_is_still_on_the_part_and_stays_there_if_it_can():
    """A pad of 30 mm at the end of an arm, on a plate of 200 mm: along y the plate ends first."""
    cell = load_cell(SAMPLES / "gate_hinge")
    plate = Body("plate", Role.PART, box((0.4, 0.05, 0.01)), frozen(translation([2.0, 2.0, 0.005])))
    clamp = Body("c", Role.CLAMP, box((0.03, 0.03, 0.04)), frozen(translation([2.0, 2.0, 0.03])))
    cell = replace(cell, bodies=(*cell.bodies, plate, clamp))
    hold = Hold(cell, clamp)
    assert hold.held == ("plate",)
    for off, kept in (([0.15, 0, 0], True), ([0, 0.038, 0], True), ([0, 0.043, 0], False),
                      ([0, 0, 0.003], False)):  # fmt: skip
        T = translation(off) @ clamp.T_world_body
        assert (hold.touched(T) == ("plate",)) == kept, off
    evaluator = Evaluator(cell, Session())
    finding = evaluator.before.findings[0] if evaluator.before.findings else None
    seen = []

    def look(*given):
        T, text = given[3], given[4]
        seen.append((hold.touched(T) == ("plate",), text))
        return iter(())

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pathsim.advice.clamps._if_clear", look)
        assert list(moved_clamps(evaluator, finding, clamp)) == []
    order = [kept for kept, _ in seen]
    assert order == sorted(order, reverse=True) and 0 < sum(order) < len(order)
    for kept, text in seen:
        assert ("It still touches the plate" in text) == kept
        assert ("off the plate and holds nothing there" in text) != kept


def test_a_floating_clamp_in_the_torch_at_the_weld_is_named_there_and_moved():
    """No way leads to such a weld; of hits before it that is said, and not what was tried."""
    cell, _ = with_clamp_in_the_way("turned_collar", 0)
    evaluator = Evaluator(cell, Session())
    mine = [(k, f) for k, f in enumerate(evaluator.before.findings, start=1)
            if f.kind in NEAR and f.body == "extra clamp" and f.move in (1, 2)]  # fmt: skip
    assert {f.move for _, f in mine} == {1, 2}
    for number, finding in mine:
        one = advise_on(evaluator, number)
        assert one.never.startswith("Already at 'weld start' the ") and not one.proposals
        assert "touches the extra clamp; no air point helps" in one.never
        moved = next(p for p in one.of_cell if p.change.kind is CellChangeKind.CLAMP_MOVED)
        assert finding in moved.cures
    # Where it stands now, samples find it in the way; where it is moved to, nowhere near.
    for there, is_off in ((cell, False), (moved.change.cell, True)):
        tracks = plan_program(there).tracks
        sampler = Sampler(there, tracks[0], {"extra clamp"})
        looks = [q for t in tracks[:2] for q in t.q_at(np.linspace(t.t[0], t.t[-1], 60))]
        assert (
            all(sampler.keeps(q, there.margins.seam, there.margins.seam) for q in looks) == is_off
        )


def test_a_hit_away_from_a_blocked_weld_keeps_its_own_advice():
    """Only where nothing served, and by the same body: here the retract's hit is cured."""
    evaluator = Evaluator(load_cell(SAMPLES / "gate_hinge_no_retract"), Session())
    number, finding = next((k, f) for k, f in enumerate(evaluator.before.findings, start=1)
                           if f.kind in NEAR)  # fmt: skip
    moves = (finding.move - 1, finding.move - 1)
    assert blocked_at_a_weld(evaluator, finding, moves) == ""
    assert advise_on(evaluator, number).never == ""

"""Proposals hold: checked again by the reference engine and by dense sampling."""

import importlib
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.advice import Change, Evaluator, advise, best_first, changed, that_go_together
from pathsim.advice.change import new_name, origins, together
from pathsim.advice.lift_records import STEP
from pathsim.advice.proposal import in_numbers
from pathsim.arm.alignment import wrist_angle
from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.files import load_cell
from pathsim.findings import Level
from pathsim.findings.places import joints_at, lifted, up
from pathsim.model import MoveKind
from pathsim.motion import plan_program
from pathsim.session import Session
from pathsim.transforms import translation
from tests.advice.clamps import is_curable, with_clamp_in_the_way
from tests.clearance.oracle import dense_distances

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture(scope="module")
def no_retract():
    evaluator = Evaluator(load_cell(SAMPLES / "gate_hinge_no_retract"), Session())
    return evaluator, advise(evaluator)


def grave(result):
    return [f for f in result.findings if f.level.at_least(Level.WATCH)]


def lowest(proposals):
    """The proposal of a plain leg that was tried height by height."""
    return next(p for p in proposals if any("lower" in said for said in p.evidence[:1]))


def without(cell, *names):
    """The cell with points that were never taught: advice would use them as they are."""
    return replace(cell, points={n: p for n, p in cell.points.items() if n not in names})


def by_reference(cell):
    return check(cell, engine=ReferenceEngine(cell))


def test_every_hit_of_a_missing_retract_is_cured_by_one_point(no_retract):
    evaluator, advice = no_retract
    assert [one.number for one in advice] == [1, 2, 3, 4]
    best = best_first(advice)
    assert len(best) == 1 and best[0].kind == "retract"
    assert len(best[0].cures) == 4
    cell = changed(evaluator.cell, best[0].change)
    assert not grave(by_reference(cell))
    assert best[0].added_seconds == pytest.approx(
        plan_program(cell).duration - evaluator.before.trajectory.duration
    )


def test_the_proposed_moves_keep_their_margins_in_dense_sampling(no_retract):
    evaluator, advice = no_retract
    best = best_first(advice)[0]
    cell = changed(evaluator.cell, best.change)
    trajectory = plan_program(cell)
    least = np.inf
    for one in queries_of(cell, trajectory, obstacles(cell), ()):
        track, piece, standing, window = one.question
        if track.number not in (4, 5) or not piece.is_torch:
            continue
        _, seen = dense_distances(cell, track, piece, standing, window, 150)
        assert seen.min() >= one.margin
        if one.part.zone == "air":
            least = min(least, seen.min())
    said = best.tightest_after
    assert said.margin == pytest.approx(0.010)  # the tightest one is in the air
    assert said.clearance.lower <= least <= said.clearance.lower + 2e-3


def test_the_retract_is_as_low_as_it_may_be(no_retract):
    """One step lower the reference engine finds a hit too; so the number is not a guess."""
    evaluator, advice = no_retract
    best = lowest(advice[0].proposals)
    ((name, q),) = best.change.points.items()
    end = evaluator.before.trajectory.tracks[2].q[-1]
    tips = evaluator.cell.tool_poses(np.stack([end, q]))[:, :3, 3]
    way = tips[1] - tips[0]
    height = float(np.linalg.norm(way))
    assert height / STEP == pytest.approx(round(height / STEP), abs=1e-3)
    T = evaluator.cell.tool_poses(end[None])[0]
    for lower in (STEP, 2 * STEP):
        place = translation(way / height * (height - lower)) @ T
        other = replace(best.change, points={name: joints_at(evaluator.cell, place, end)})
        found = grave(by_reference(changed(evaluator.cell, other)))
        assert found
        if lower == STEP:
            # What the sentence names is what the other engine finds there, with its number.
            said = best.evidence[0]
            assert said.startswith("5 mm lower the ")
            named = [f for f in found if f"the {f.piece} " in said and f"the {f.body}" in said]
            assert named and ("touches" in said) == (named[0].kind == "contact")
            if named[0].kind == "near-hit":
                told = float(re.search(r"with ([0-9.]+) mm", said)[1])
                assert told == pytest.approx(1e3 * named[0].numbers["clearance"], abs=0.6)


def test_what_a_75_mm_retract_does_is_what_the_check_says(no_retract):
    """Each "A ... mm retract" sentence against the reference engine at that height."""
    evaluator, advice = no_retract
    best = lowest(advice[0].proposals)
    ((name, q),) = best.change.points.items()
    end = evaluator.before.trajectory.tracks[2].q[-1]
    tips = evaluator.cell.tool_poses(np.stack([end, q]))[:, :3, 3]
    way = (tips[1] - tips[0]) / np.linalg.norm(tips[1] - tips[0])
    said = [s for s in best.evidence if s.startswith("A ")]
    assert [s.split(" retract")[0] for s in said] == ["A 75 mm", "A 100 mm"]
    for sentence, height in zip(said, (0.075, 0.100), strict=True):
        there = replace(best.change, points={name: lifted(evaluator.cell, end, way, height)})
        found = grave(by_reference(changed(evaluator.cell, there)))
        if "keeps all margins" in sentence:
            assert not found
        else:
            assert any(f"{f.piece} " in sentence and f.body in sentence for f in found)


def test_straight_up_is_told_to_fail_and_does(no_retract):
    evaluator, advice = no_retract
    said = " ".join(advice[0].tried)
    assert "straight up: the wire touches the hinge plate" in said
    end = evaluator.before.trajectory.tracks[2].q[-1]
    best = best_first(advice)[0]
    q = lifted(evaluator.cell, end, up(), 0.2)
    other = replace(best.change, points=dict.fromkeys(best.change.points, q))
    touching = [
        f for f in by_reference(changed(evaluator.cell, other)).findings if f.kind == "contact"
    ]
    assert any((f.piece, f.body) == ("wire", "hinge plate") for f in touching)


def test_a_missing_approach_is_proposed_too():
    cell = load_cell(SAMPLES / "gate_hinge_no_retract")
    first, _, *rest = cell.program.moves
    moves = (replace(first, target="weld start"), *rest)
    cell = without(replace(cell, program=replace(cell.program, moves=moves)), "approach")
    evaluator = Evaluator(cell, Session())
    assert any(f.move == 1 for f in grave(evaluator.before))
    advice = [one for one in advise(evaluator) if one.finding.move == 1]
    best = advice[0].proposals[0]
    assert best.kind == "approach"
    after = changed(cell, best.change)
    kinds = [(m.kind, m.target) for m in after.program.moves[:2]]
    assert kinds == [(MoveKind.JOINT, new_name(cell, "approach")), (MoveKind.LINEAR, "weld start")]
    assert not [f for f in grave(by_reference(after)) if f.move in (1, 2)]


def test_a_twist_at_the_air_point_frees_the_wrist_and_leaves_the_seam_alone():
    cell = load_cell(SAMPLES / "wrist_in_line")
    evaluator = Evaluator(cell, Session())
    (one,) = advise(evaluator)
    best = one.proposals[0]
    assert best.kind == "twist"
    after = changed(cell, best.change)
    old, new = plan_program(cell).tracks, plan_program(after).tracks
    number = one.finding.move - 1
    fastest = [
        (np.abs(np.diff(t[number].q[:, 3])) / np.diff(t[number].t)).max() for t in (old, new)
    ]
    assert fastest[1] < 0.5 * fastest[0]
    assert wrist_angle(cell.arm, new[number].q).min() > np.radians(5)
    welded = {m.target for m in cell.program.moves if m.arc_on}
    welded |= {t.start for t in old if t.move.arc_on}
    assert not set(best.change.points) & welded
    for a, b in zip(old, new, strict=True):
        if a.move.arc_on:
            assert np.allclose(a.q, b.q, atol=1e-9)
    assert not [f for f in grave(by_reference(after)) if f.kind == "wrist aligned"]


def test_what_no_point_can_cure_is_said():
    evaluator = Evaluator(load_cell(SAMPLES / "deep_channel"), Session())
    for one in advise(evaluator):
        assert not one.proposals
        on_seam = one.finding.kind == "contact"
        assert ("no air point helps" if on_seam else "No taught point fixes this") in one.never


def test_going_home_is_proposed_where_the_program_ends_elsewhere():
    cell = load_cell(SAMPLES / "gate_hinge")
    cell = replace(cell, program=replace(cell.program, moves=cell.program.moves[:-1]))
    evaluator = Evaluator(cell, Session())
    best = [p for one in advise(evaluator) for p in one.proposals if p.kind == "home"]
    assert len(best) == 1
    after = changed(cell, best[0].change)
    assert after.program.moves[-1].target == after.program.start
    q = plan_program(after).tracks[-1].q[-1]
    assert np.allclose(q, cell.points["home"].q)


@pytest.mark.parametrize(("name", "seed"), [("gate_hinge", 2), ("collar_seam", 1)])
def test_random_clamps_are_got_round_without_harm(name, seed):
    """Many more: ``python -m tests.benchmarks.advice_share``."""
    cell, _ = with_clamp_in_the_way(name, seed)
    evaluator = Evaluator(cell, Session())
    advice = advise(evaluator)
    curable = [one for one in advice if is_curable(evaluator.before, one.finding)]
    assert curable
    for one in curable:
        assert one.proposals
        best = one.proposals[0]
        again = by_reference(changed(cell, best.change))
        assert not evaluator.worsened(best.change, again)
        assert one.finding in evaluator.cured(best.change, again)


def test_a_change_that_worsens_something_is_noticed(no_retract):
    """The retract point straight through the hinge plate: a new contact, on a new move."""
    evaluator, advice = no_retract
    best = best_first(advice)[0]
    q = lifted(evaluator.cell, evaluator.before.trajectory.tracks[2].q[-1], up(), 0.1)
    bad = replace(best.change, points=dict.fromkeys(best.change.points, q))
    worse = evaluator.worsened(bad, evaluator.full(bad))
    assert any(f.kind == "contact" for f in worse)


def test_a_note_that_a_cure_brings_with_it_is_said():
    """The twist of the approach point is what a habit note then speaks against."""
    evaluator = Evaluator(load_cell(SAMPLES / "wrist_in_line"), Session())
    best = advise(evaluator)[0].proposals[0]
    notes = {f.text for f in best.after.findings} - {f.text for f in evaluator.before.findings}
    assert any("The torch turns by" in note for note in notes)
    said = " ".join(best.evidence)
    assert all(note in said for note in notes)


def test_ways_round_of_two_moves_get_names_of_their_own():
    """Both have two points of the same names at other places: four points, and no two are one."""
    cell = load_cell(SAMPLES / "gate_hinge")
    home, moves = cell.points["home"].q, cell.program.moves
    changes = []
    for number, index in enumerate((0, 4)):
        names = ("on the way", "on the way 2")
        points = {name: home + 0.1 * (2 * number + k + 1) for k, name in enumerate(names)}
        put_in = tuple((index, replace(moves[0], target=name)) for name in names)
        changes.append(Change(cell, points, put_in))
    both = together(cell, changes)
    assert len(both.points) == 4
    after = changed(cell, both)
    for start, change in ((0, changes[0]), (6, changes[1])):
        for move, q in zip(after.program.moves[start:], change.points.values(), strict=False):
            assert np.array_equal(after.points[move.target].q, q)


def test_what_is_said_of_a_seam_does_not_deny_what_its_finding_offers():
    """A turn about the wire at the weld may help; it is no matter of a point in the air."""
    cell = load_cell(SAMPLES / "wrist_in_line")
    down, seam = cell.program.moves[1:3]
    moves = (cell.program.moves[0], replace(down, arc_on=True), seam)
    cell = replace(cell, program=replace(cell.program, moves=(*moves, *cell.program.moves[3:])))
    evaluator = Evaluator(cell, Session())
    one = next(o for o in advise(evaluator) if o.finding.kind == "wrist aligned")
    assert "no air point helps" in one.never
    assert ("Turning the torch" in one.finding.text) == ("Turn the torch" in one.never)


@pytest.mark.parametrize("shift", [(0, 0, 0), (-0.030827, -0.002242, -0.053062)])
def test_an_approach_is_no_higher_for_hits_on_moves_that_stay_as_they_are(shift):
    """The way home still clips the clamp, whatever the approach: that is no matter of its height.

    A seam set out for from elsewhere ends at joint values that differ by their last bits.
    """
    cell = load_cell(SAMPLES / "gate_hinge_no_retract")
    first, _, *rest = cell.program.moves
    moves = (replace(first, target="weld start"), *rest)
    clamps = [replace(b, T_world_body=translation(shift) @ b.T_world_body)
              if b.name == "left clamp" else b for b in cell.bodies]  # fmt: skip
    cell = replace(cell, bodies=tuple(clamps), program=replace(cell.program, moves=moves))
    cell = without(cell, "approach")
    evaluator = Evaluator(cell, Session())
    weld = cell.points["weld start"].q
    looked = 0
    for one in (o for o in advise(evaluator) if o.finding.move == 1):
        plain = (p for p in one.proposals if p.kind == "approach" and "from the weld" in p.text)
        for proposal in plain:
            ((name, q),) = proposal.change.points.items()
            tips = cell.tool_poses(np.stack([weld, q]))[:, :3, 3]
            way = tips[1] - tips[0]
            height = float(np.linalg.norm(way))
            lower = lifted(cell, weld, way / height, height - STEP)
            change = replace(proposal.change, points={name: lower})
            after = evaluator.full(change)
            gone = evaluator.cured(change, after)
            assert evaluator.worsened(change, after) or not all(f in gone for f in proposal.cures)
            # What is said of one step lower is of the two moves to the weld, which change.
            said = proposal.evidence[0]
            assert any(f.body in said for f in after.findings if f.move in (1, 2) and f.body)
            looked += 1
    assert looked


def test_no_turn_is_proposed_that_makes_the_wrist_faster(monkeypatch):
    """Out of line, and yet harder on the joints than before: that is no cure."""
    evaluator = Evaluator(load_cell(SAMPLES / "wrist_in_line"), Session())
    old = evaluator.before.trajectory.tracks[1]
    assert advise(evaluator)[0].proposals
    module = importlib.import_module("pathsim.advice.wrist_cures")
    monkeypatch.setattr(module, "_wrist_need", lambda _, track: float(track is not old))
    (one,) = advise(evaluator)
    assert not one.proposals and any("turning the torch" in words for words in one.tried)


def test_changes_keep_the_order_of_moves(no_retract):
    evaluator, _ = no_retract
    moves = evaluator.cell.program.moves
    put_in = ((1, moves[0]), (1, moves[1]), (len(moves), moves[0]))
    change = Change(evaluator.cell, {}, put_in, ((0, moves[3]),))
    after = changed(evaluator.cell, change).program.moves
    assert after == (moves[3], moves[0], moves[1], *moves[1:], moves[0])
    assert origins(evaluator.cell, change) == [0, None, None, 1, 2, 3, None]


def gate_hinge_with(moves):
    """The sound cell with another program, made from its moves."""
    cell = load_cell(SAMPLES / "gate_hinge")
    return replace(cell, program=replace(cell.program, moves=tuple(moves(cell.program.moves))))


def test_two_seams_without_retracts_are_cured_together_by_one_point():
    cell = without(gate_hinge_with(lambda m: [*m[:3], m[4]] * 2), "retract")
    evaluator = Evaluator(cell, Session())
    proposals = best_first(advise(evaluator))
    assert [p.kind for p in proposals] == ["retract", "retract"]
    chosen, change, left = that_go_together(evaluator, proposals)
    assert len(chosen) == 2 and not left
    assert len(change.points) == 1 and len(change.moves) == 2
    assert not grave(by_reference(changed(cell, change)))


def test_from_one_weld_straight_to_the_next_needs_a_point_at_either_end():
    cell = gate_hinge_with(lambda m: [*m[:3], replace(m[4], target="weld start"), *m[2:]])
    evaluator = Evaluator(cell, Session())
    assert {f.move for f in grave(evaluator.before)} == {4}
    best = advise(evaluator)[0].proposals[0]
    assert best.kind == "legs" and len(best.change.points) == 2
    after = changed(cell, best.change)
    assert not grave(by_reference(after))
    kinds = [str(move.kind) for move in after.program.moves[3:6]]
    assert kinds == ["linear", "joint", "linear"]
    # Either point one step lower fails by the reference engine too.
    ends = (cell.points["weld end"].q, cell.points["weld start"].q)
    for (name, q), end in zip(best.change.points.items(), ends, strict=True):
        tips = cell.tool_poses(np.stack([end, q]))[:, :3, 3]
        way = tips[1] - tips[0]
        height = float(np.linalg.norm(way))
        lower = lifted(cell, end, way / height, height - STEP)
        other = replace(best.change, points={**best.change.points, name: lower})
        assert grave(by_reference(changed(cell, other)))


def test_a_retract_that_is_too_low_is_lifted_and_the_usual_heights_count_from_the_weld():
    cell = load_cell(SAMPLES / "gate_hinge")
    end = cell.points["weld end"].q
    low = lifted(cell, end, -cell.tool_poses(end[None])[0, :3, 2], 0.03)
    points = {**cell.points, "retract": replace(cell.points["retract"], q=low)}
    cell = replace(cell, points=points)
    evaluator = Evaluator(cell, Session())
    best = next(p for p in advise(evaluator)[0].proposals if "so that it is" in p.text)
    assert list(best.change.points) == ["retract"] and not best.change.moves
    after = changed(cell, best.change)
    assert not grave(by_reference(after))
    tips = cell.tool_poses(np.stack([end, after.points["retract"].q]))[:, :3, 3]
    assert f"so that it is {1e3 * np.linalg.norm(tips[1] - tips[0]):.0f} mm from" in best.text
    said = [s for s in best.evidence if s.startswith("A ") and " retract" in s]
    assert len(said) == 2
    for sentence, height in zip(said, (0.075, 0.100), strict=True):
        assert sentence.startswith(f"A {1e3 * height:.0f} mm retract")
        q = lifted(cell, end, up(), height)
        there = replace(cell, points={**points, "retract": replace(points["retract"], q=q)})
        assert ("keeps all margins" in sentence) == (not grave(by_reference(there)))


def test_before_and_after_speak_of_the_same_moves_with_their_margins():
    """At the seam it is as near as ever after a twist of 'approach': no number may hide that."""
    evaluator = Evaluator(load_cell(SAMPLES / "wrist_in_line"), Session())
    best = advise(evaluator)[0].proposals[0]
    before, after = best.tightest_before, best.tightest_after
    for said, moves in ((before, best.before.moves[:2]), (after, best.after.moves[:2])):
        least = min(p.clearance.lower - p.margin for move in moves for p in move.pairs)
        assert said.clearance.lower - said.margin == pytest.approx(least)
        assert f"{said.piece} to {said.body}" in in_numbers(best)
    assert after.clearance.lower < 0.005  # and not the tens of millimetres of the air


def test_numbers_are_one_sentence(no_retract):
    """One capital at its start; a program that only gets longer has nothing before."""
    _, advice = no_retract
    said = in_numbers(best_first(advice)[0])
    assert said.startswith("Before: the neck touches the left clamp; after: ")
    cell = load_cell(SAMPLES / "gate_hinge")
    cell = replace(cell, program=replace(cell.program, moves=cell.program.moves[:-1]))
    home = next(p for one in advise(Evaluator(cell, Session())) for p in one.proposals)
    assert in_numbers(home).startswith("After: ") and "efore:" not in in_numbers(home)


def test_only_what_was_tried_is_said_to_have_failed(no_retract):
    """A move from a weld to home: no air point to turn, and nothing on the way was needed."""
    _, advice = no_retract
    said = " ".join(advice[0].tried)
    assert "on the way," not in said and "points on the way" not in said
    assert "other joint values" not in said


def test_a_straight_leg_that_hits_is_taught_in_another_direction():
    """Straight up from the weld end the wire goes into the hinge plate; back along the wire not."""
    cell = load_cell(SAMPLES / "gate_hinge")
    end = cell.points["weld end"].q
    high = replace(cell.points["retract"], q=lifted(cell, end, up(), 0.12))
    cell = replace(cell, points={**cell.points, "retract": high})
    evaluator = Evaluator(cell, Session())
    advice = [one for one in advise(evaluator) if one.finding.move == 4]
    assert advice
    for one in advice:
        plain = "back along the wire from the weld end instead"
        best = next(p for p in one.proposals if plain in p.text)
        assert list(best.change.points) == ["retract"] and not best.change.moves
        assert "back along the wire from the weld end instead" in best.text
    after = changed(cell, best.change)
    assert not grave(by_reference(after))
    tips = cell.tool_poses(np.stack([end, after.points["retract"].q]))
    way = tips[1, :3, 3] - tips[0, :3, 3]
    assert np.allclose(way / np.linalg.norm(way), -tips[0, :3, 2], atol=1e-6)

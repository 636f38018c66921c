"""Earlier beads are bodies from behind their own pass on: both engines, and dense sampling."""

from dataclasses import replace

import numpy as np
import pytest

from pathsim.advice.edges import Edge, EdgeProver
from pathsim.check import check
from pathsim.clearance.contact_rules import Zone, pairs_to_measure, stand_by
from pathsim.clearance.measure import measure_moves
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.swept.engine import FastEngine
from pathsim.files import load_cell
from pathsim.findings import FindingKind
from pathsim.geometry.containment import solid_of
from pathsim.model import Pass, Role, TorchPiece
from pathsim.motion import plan_program
from pathsim.session import Session
from pathsim.transforms import pose
from tests.advice.test_welds_untouched import AT, DOWN, small_cell
from tests.builders import body, box, cell, joint, linear, turning_table
from tests.clearance.oracle import dense_distances
from tests.model.test_multipass import AWAY, FEED, TO_START, in_passes, line
from tests.test_public_api import SAMPLES

ENGINES = [FastEngine, ReferenceEngine]
ROOT, FILL = Pass("root"), Pass("fill", up=0.004)


def contacts(c, engine):
    found = check(c, engine=engine(c)).findings
    return {(f.move, f.piece, f.body) for f in found if f.kind is FindingKind.CONTACT}


@pytest.mark.parametrize("engine", ENGINES)
def test_a_way_over_a_bead_is_clear_before_its_pass_and_found_behind_it(engine):
    """The same move, low along the joint: clear before pass one, in the bead behind it."""
    high = AT + [0.0, -0.1, 0.004]
    c = in_passes(ROOT)
    for name, y in (("low start", 0.02), ("low end", 0.06)):
        c = c.with_point(name, T_world_tcp=pose(DOWN, high + [0.0, y, 0.0]))
    along = linear("low start"), linear("low end"), linear("above")
    c = c.with_program("home", joint("above"), *along, *TO_START[1:], line(ROOT),
                       linear("retract"), joint("above"), *along, joint("home"))  # fmt: skip
    index = next(k for k, move in enumerate(c.program.moves) if move.arc_on)
    met = {move for move, piece, name in contacts(c, engine) if name == "bead of 'root'"}
    assert met and all(number > index + 1 for number in met)
    again = [k for k, m in enumerate(c.program.moves, 1) if m.target == "low end"]
    assert again[0] not in met and again[1] in met
    # where the bead is no body, nothing is asked of it
    trajectory, things = plan_program(c), obstacles(c)
    for track in trajectory.tracks:
        names = {thing.name for _, thing in pairs_to_measure(c, track, things)}
        assert ("bead of 'root'" in names) == (track.index > index)


@pytest.mark.parametrize("engine", ENGINES)
def test_a_nozzle_that_clips_an_earlier_bead_on_the_third_pass_is_found(engine):
    """Two beads of 28 mm2; a third pass 19 mm beside them, the torch leaning 60 deg over them.

    Its nozzle begins 15 mm above the wire's end and is 16 mm wide: over the joint it is half a
    millimetre above the line of the first bead's root. A neck in its place, 24 mm wide and behind
    a short nozzle, clips as well.
    """
    third = Pass("low", left=0.019, up=0.0, lean_left=-1.04)
    for pieces in ([("nozzle", 0.016, 0.015, 0.075)],
                   [("nozzle", 0.004, 0.0125, 0.014), ("neck", 0.024, 0.014, 0.08)]):  # fmt: skip
        c = with_torch(in_passes(ROOT, Pass("top", up=0.006), third, lift=0.06), pieces)
        c = c.without_body("plate").without_body("block")
        seams = [k for k, m in enumerate(c.program.moves, 1) if m.arc_on]
        found = contacts(c, engine)
        assert (seams[2], pieces[-1][0], "bead of 'root'") in found
        assert not any(move < seams[2] - 1 for move, _, _ in found)
        # the same pass before there is any bead is clear, on all of its moves
        alone = with_torch(in_passes(third, lift=0.06), pieces)
        alone = alone.without_body("plate").without_body("block")
        assert contacts(alone, engine) == set()


def with_torch(c, pieces):
    """The cell with a torch of square pieces along its wire: name, width, from and to, m."""
    made = [
        TorchPiece(name, box((wide, wide, end - start), (0, 0, -(start + end) / 2)).moved(
            c.torch.T_flange_tcp))
        for name, wide, start, end in pieces
    ]  # fmt: skip
    return replace(c, torch=replace(c.torch, pieces=tuple(made)))


def test_during_a_later_pass_the_wires_end_may_meet_a_bead_and_nothing_else_may():
    """The end that may touch is longer by the bead's height; nozzle and neck keep the margin."""
    c = in_passes(ROOT, FILL)
    trajectory, things = plan_program(c), obstacles(c)
    asked = queries_of(c, trajectory, things, [])
    track = [t for t in trajectory.tracks if t.move.arc_on][1]
    of_bead = [one for one in asked if one.question.track is track
               and one.question.standing.bead_top]  # fmt: skip
    wire = [one for one in of_bead if one.question.piece.is_wire]
    (bead,) = [one for one in c.beads if one.laid_by < track.index]
    (part,) = {one.part for one in wire}
    assert part.zone is Zone.SEAM
    assert part.touching_end == pytest.approx(track.move.wire_end + c.bead_top)
    assert all(one.at_weld and one.margin == 0.0 for one in wire)
    # what is asked of the wire is what is above that end: as long as the stick-out without it
    (piece,) = {one.question.piece for one in wire}
    tip = c.torch.T_flange_tcp[:3, 3]
    low = np.linalg.norm(piece.mesh.vertices - tip, axis=1).min()
    assert low == pytest.approx(part.touching_end, abs=1e-4)
    others = {one.question.piece.name: one.margin for one in of_bead
              if not one.question.piece.is_wire}  # fmt: skip
    assert others and set(others.values()) == {c.margins.seam}
    assert bead.body is not None and stand_by(track, bead.body)
    # a rib of the part as high as that is still met by the wire above its own end
    rib = body(box((0.03, 0.004, 0.018)), "rib", Role.PART, AT + [0.0, 0.0, 0.004])
    found = contacts(c.with_body(rib), FastEngine)
    assert (track.number, "wire", "rib") in found


@pytest.mark.parametrize(
    "passes",
    [(ROOT, FILL), (ROOT, FILL, Pass("cap", left=0.003, up=0.007, lean_left=0.3, reversed=True))],
)
def test_both_engines_hold_what_dense_sampling_sees(passes):
    """Of every bead on every move on which it stands; on no other is there a number."""
    c = in_passes(*passes, lift=0.02).without_body("block")
    trajectory = plan_program(c)
    measured = [measure_moves(c, trajectory, engine(c)) for engine in ENGINES]
    things = {thing.name: thing for thing in obstacles(c)}
    looked = 0
    for one, two in zip(*measured, strict=True):
        track = one.track
        asked = {(p.piece, p.body) for p in one.pairs}
        assert asked == {(p.piece, p.body) for p in two.pairs}
        for bead in c.beads:
            met = [pair for pair in one.pairs if pair.body == bead.name]
            assert bool(met) == (track.index > bead.laid_by)
        for pair, other in zip(one.pairs, two.pairs, strict=True):
            thing = things[pair.body]
            if not thing.bead_top or pair.clearance.is_capped:
                continue
            piece = next(p for p in c.arm_pieces if p.name == pair.piece)
            span = pair.stretch.start, pair.stretch.end
            _, seen = dense_distances(c, track, piece, thing, span, 60)
            for found in (pair.clearance, other.clearance):
                assert found.lower <= seen.min() + 1e-9
                assert found.upper <= seen.min() + 2e-3 or found.lower > 0.04
            looked += 1
    assert looked >= 10


def test_a_bead_on_a_turning_table_is_met_where_the_table_has_brought_it():
    table = turning_table(at=AT - [0.0, 0.0, 0.3])
    base = small_cell([*TO_START, line(ROOT), *AWAY])
    points = {n: np.append(p.q, 0.0) for n, p in base.points.items() if not p.derived}
    for name, y in (("low start", 0.0), ("low end", 0.05)):
        c = base.with_point(name, T_world_tcp=pose(DOWN, AT + [0.03, y, 0.004]))
        q = base.arm.inverse(
            c.points[name].T_base_tcp @ c.torch.T_tcp_flange, near=base.points["end"].q
        )
        points[name] = np.append(min(q, key=lambda s: np.abs(s - base.points["end"].q).max()), 0.0)
    # turned by 90 deg the bead lies along -x to x, 30 mm beside which the torch was taught low
    points |= {
        f"{n}, turned": np.append(points[n][:6], np.pi / 2) for n in ("retract", "low start")
    }
    plate = replace(body(box((0.3, 0.4, 0.01)), "plate", Role.PART, on_table=True),
                    T_world_body=pose(np.eye(3), AT - [0.0, 0.0, 0.0055]))  # fmt: skip
    moves = [*TO_START, line(ROOT), linear("retract"), joint("retract, turned"),
             linear("low start, turned"), joint("retract, turned")]  # fmt: skip
    c = replace(cell(points, moves, table=table, bodies=[plate]), process=FEED)
    for engine in ENGINES:
        assert (6, "wire", "bead of 'root'") in contacts(c, engine)
    plain = replace(c, process=None)
    assert not any(name.startswith("bead") for _, _, name in contacts(plain, FastEngine))


@pytest.mark.parametrize("on_table", [True, False])
def test_a_bead_on_a_part_that_the_table_turns_past_is_said_not_to_be_drawn(on_table):
    """The points turn with the table under the pass; where the part does not, no form is bound."""
    base = small_cell([*TO_START, line(ROOT), *AWAY])
    points = {n: np.append(p.q, 0.0) for n, p in base.points.items() if not p.derived}
    points["end"] = np.append(points["end"][:6], 0.4)
    for name in ("retract", "low"):
        points[name] = np.append(points[name][:6], 0.4)
    plate = replace(body(box((0.3, 0.4, 0.01)), "plate", Role.PART, on_table=on_table),
                    T_world_body=pose(np.eye(3), AT - [0.0, 0.0, 0.0055]))  # fmt: skip
    c = cell(points, [*TO_START, line(ROOT), linear("retract")],
             table=turning_table(at=AT - [0.0, 0.0, 0.3]), bodies=[plate])  # fmt: skip
    c = replace(c, process=FEED)
    said = [f.text for f in check(c).findings if f.kind is FindingKind.NOT_CHECKED]
    assert (c.beads[0].body is not None) == on_table
    assert any("cannot be drawn, so no later move was checked" in text for text in said) != on_table


def test_looks_and_plans_of_advice_know_the_beads_that_stand():
    """A move put in behind the last pass is held against all beads, one before it against none."""
    c = in_passes(ROOT, FILL)
    tip = pose(DOWN, AT + [0.0, 0.0, 0.005])
    q = c.arm.inverse(tip @ c.torch.T_tcp_flange, near=c.points["end"].q)
    q = min(q, key=lambda s: np.abs(s - c.points["end"].q).max())
    up = c.arm.inverse(pose(DOWN, AT + [0.0, 0.0, 0.05]) @ c.torch.T_tcp_flange, near=q)
    up = min(up, key=lambda s: np.abs(s - q).max())
    bare = c.without_body("plate")
    before, behind = (
        EdgeProver(bare, Session(), 0.25, 0.1, at) for at in (1, len(c.program.moves) - 1)
    )
    assert before.spare([Edge(up, q)])[0] > 0
    assert behind.spare([Edge(up, q)])[0] == -np.inf


def test_quick_answers_and_postures_know_beads_too():
    """A bead without a size is not all measured; a posture alone has no bead in it."""
    c = load_cell(SAMPLES / "three_passes")
    said = [Session().evaluate(one) for one in (c, replace(c, process=None))]
    assert said[0].why_not == ""
    assert said[1].why_not == "not all was measured: beads that are no bodies"
    assert said[0].lower == 0.0 < said[1].lower  # the wire runs through the root
    assert {"far plate", "nozzle"} < set(c.posed(c.points["home"].q))
    assert not any(name.startswith("bead") for name in c.posed(c.points["home"].q))


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("off", [0.011, 0.013])
def test_an_approach_through_a_bead_beside_its_own_seam_is_found(engine, off):
    """A seam beside a bead: its approach slants through that bead, the wire's end first.

    The seam's own place is free of it: there the bead is to the wire as any part is.
    """
    start = AT + [off, -0.1, 0.0]
    slope = np.radians(40.0 if off < 0.012 else 36.0)
    far = start + 0.03 * np.array([-np.cos(slope), 0.0, np.sin(slope)])
    c = in_passes(ROOT).without_body("block")
    places = {"begins": start, "far": far, "over": far + [0.0, 0.0, 0.1],
              "ends": start + [0.0, 0.05, 0.0], "out": start + [0.0, 0.05, 0.1]}  # fmt: skip
    for name, place in places.items():
        c = c.with_point(name, T_world_tcp=pose(DOWN, place))
    beside = linear("ends", 0.006)
    seam = replace(beside, arc_on=True)
    moves = [*TO_START, line(ROOT), linear("retract"), joint("over"), linear("far"),
             linear("begins"), seam, linear("out"), joint("home")]  # fmt: skip
    c = replace(c.with_program("home", *moves), process=FEED)
    (number,) = (k for k, m in enumerate(c.program.moves, 1) if m.target == "begins")
    track = plan_program(c).tracks[number - 1]
    tips = c.tips(track.q_at(np.linspace(track.t[0], track.t[-1], 200)))
    (bead,) = c.beads
    inside = [solid_of(bead.body.mesh).holds(tip[None]) for tip in tips]
    assert 5 < sum(inside) < 100 and not inside[0] and not inside[-1]
    assert (number, "wire", bead.name) in contacts(c, engine)
    # the seam itself, with the wire's end beside the bead, does not touch it
    assert (number + 1, "wire", bead.name) not in contacts(c, engine)

"""What a check promises as a cure checks out: amplitudes of weaves, turns about the wire."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.advice import Evaluator, advise
from pathsim.advice.cure_text import cure_in_words
from pathsim.arm.alignment import wrist_angle
from pathsim.clearance import ReferenceEngine
from pathsim.findings import Evidence, FindingKind, Level
from pathsim.findings.acceleration import corner_share
from pathsim.findings.amplitude import fitting_amplitude
from pathsim.findings.places import joints_at
from pathsim.findings.twist import TWISTS, ZONE, twists
from pathsim.model import Body, Pass, Pattern, Point, Role, Weave
from pathsim.model.laid_out import plainly
from pathsim.motion import MoveCache
from pathsim.session import Session
from pathsim.transforms import frozen, pose, rotation_about
from pathsim.units import degrees, millimetres
from tests.advice.test_welds_untouched import AT
from tests.builders import box
from tests.clearance.test_beads import with_torch
from tests.model.test_multipass import ALONG, in_passes

SAMPLES = Path(__file__).parents[2] / "sample_cells"


def cell_with(name, amplitude=None, acceleration=None):
    cell = pathsim.load_cell(SAMPLES / name)
    moves = [replace(m, weave=replace(m.weave, amplitude=amplitude)) if m.weave and amplitude else m
             for m in cell.program.moves]  # fmt: skip
    arm = cell.arm
    if acceleration is not None:
        arm = replace(arm, acceleration=frozen(acceleration * arm.acceleration))
    return replace(cell, arm=arm, program=replace(cell.program, moves=tuple(moves)))


def on_seams(result):
    arcs = {t.number for t in result.trajectory.tracks if t.move.arc_on}
    return [f for f in result.findings if f.move in arcs and f.level.at_least(Level.WATCH)]


@pytest.mark.parametrize(
    ("name", "amplitude"),
    [("deep_channel", None), ("deep_channel", 0.003), ("turned_collar", 0.005)],
)
def test_an_amplitude_that_is_promised_checks_out(name, amplitude):
    cell = cell_with(name, amplitude)
    result = pathsim.check(cell)
    (finding,) = [f for f in result.findings if f.kind == FindingKind.WEAVE_ROOM]
    fits = finding.numbers["fits"]
    assert f"Reduce the amplitude to {millimetres(fits)}." in finding.text
    again = cell_with(name, fits)
    for engine in (None, ReferenceEngine(again)):
        assert on_seams(pathsim.check(again, engine=engine)) == []
    # It is no number on the safe side of everything: half a millimetre more is told of.
    assert fits > finding.numbers["right"] - 0.0009


def test_one_number_wherever_the_amplitude_is_asked_for():
    """In the finding, for the contact that comes of it, and in both cures."""
    bench = Evaluator(cell_with("deep_channel"), Session())
    room = next(f for f in bench.before.findings if f.kind == FindingKind.WEAVE_ROOM)
    said = f"Reduce the amplitude to {millimetres(room.numbers['fits'])}."
    for number, one in enumerate(advise(bench), start=1):
        assert said in one.never
        assert said in cure_in_words(bench, number)[0]


def test_an_amplitude_that_joints_can_follow_checks_out():
    slow = cell_with("gate_hinge", acceleration=0.03)
    result = pathsim.check(slow)
    (finding,) = [f for f in result.findings if f.kind == FindingKind.WEAVE_ACCELERATION]
    track = result.trajectory.tracks[finding.move - 1]
    evidence = Evidence(slow, result.trajectory, result.moves, None,
                        ReferenceEngine(slow), MoveCache())  # fmt: skip
    fits = fitting_amplitude(evidence, track)
    assert f"or {millimetres(fits)} to each side could be followed" in finding.text
    again = pathsim.check(cell_with("gate_hinge", fits, 0.03))
    assert on_seams(again) == []
    seam = next(t for t in again.trajectory.tracks if t.move.arc_on)
    assert 0.7 < corner_share(slow, seam).max() <= 1


def test_an_amplitude_is_measured_and_not_taken_from_the_room_alone():
    """Without the room to start from: from 4.5 mm down to what keeps the margin, and no more."""
    cell = cell_with("deep_channel")
    result = pathsim.check(cell)
    track = next(t for t in result.trajectory.tracks if t.move.arc_on)
    evidence = Evidence(cell, result.trajectory, result.moves, None,
                        ReferenceEngine(cell), MoveCache())  # fmt: skip
    fits = fitting_amplitude(evidence, track)
    assert 0.001 < fits < 0.002
    assert on_seams(pathsim.check(cell_with("deep_channel", fits))) == []


def test_where_no_amplitude_fits_none_is_promised():
    """A margin that the torch does not keep without a weave either."""
    cell = cell_with("deep_channel")
    cell = replace(cell, margins=replace(cell.margins, seam=0.006))
    (finding,) = [f for f in pathsim.check(cell).findings if f.kind == FindingKind.WEAVE_ROOM]
    assert "fits" not in finding.numbers and "Reduce" not in finding.text
    assert "No smaller amplitude was found that fits" in finding.text


def test_a_turn_that_is_promised_is_the_one_that_is_proposed_and_checks_out():
    cell = pathsim.load_cell(SAMPLES / "wrist_in_line")
    bench = Evaluator(cell, Session())
    (one,) = advise(bench)
    best = one.proposals[0]
    evidence = bench.evidence
    track = evidence.trajectory.tracks[one.finding.move - 1]
    twist = next(twists(evidence, track))
    assert best.kind == "twist" and set(best.change.points) == set(twist.points)
    for name, q in twist.points.items():
        assert np.array_equal(best.change.points[name], q)
    said = f"{degrees(twist.angle, 0)} about its wire"
    assert said in one.finding.text and said in best.text
    # By hand: the same turn, and each smaller one fails.
    ((name, _),) = twist.points.items()
    q = cell.points[name].q

    def checked(angle):
        T = cell.tool_poses(q[None])[0] @ pose(rotation_about([0, 0, 1.0], angle), np.zeros(3))
        point = Point(name, frozen(joints_at(cell, T, q)), None)
        return pathsim.check(replace(cell, points={**cell.points, name: point}))

    result = checked(twist.angle)
    assert result.is_clear
    new = result.trajectory.tracks[track.index]
    least = wrist_angle(cell.arm, new.q).min()
    assert least == pytest.approx(twist.alignment, abs=1e-3)
    for angle in TWISTS[abs(twist.angle) - 1e-9 > TWISTS]:
        for turn in (angle, -angle):
            kinds = {f.kind for f in checked(turn).findings if f.level.at_least(Level.WATCH)}
            assert kinds


def test_a_turn_on_a_seam_is_one_number_and_checks_out():
    """The straight way down made a seam: both its points turn, and the finding goes."""
    cell = pathsim.load_cell(SAMPLES / "wrist_in_line")
    down = replace(cell.program.moves[1], arc_on=True)
    moves = (cell.program.moves[0], down, *cell.program.moves[2:])
    cell = replace(cell, program=replace(cell.program, moves=moves))
    bench = Evaluator(cell, Session())
    one = next(o for o in advise(bench) if o.finding.kind == FindingKind.WRIST_ALIGNED)
    assert not one.proposals
    track = bench.evidence.trajectory.tracks[1]
    twist = next(twists(bench.evidence, track), None)
    if twist is None:
        assert "No turn of the torch" in one.finding.text and "Change torch angle" in one.never
        return
    assert set(twist.points) == {"approach", "weld start"}
    said = f"{degrees(twist.angle, 0)} about its wire at"
    assert said in one.finding.text and said in one.never
    points = {n: Point(n, frozen(q), None) for n, q in twist.points.items()}
    after = pathsim.check(replace(cell, points={**cell.points, **points}))
    new = after.trajectory.tracks[1]
    assert wrist_angle(cell.arm, new.q).min() > ZONE
    assert not [f for f in after.findings if f.kind == FindingKind.WRIST_ALIGNED and f.move == 2
                and f.level.at_least(Level.WATCH)]  # fmt: skip


def test_nothing_is_promised_where_nothing_can_be_measured():
    cell = pathsim.load_cell(SAMPLES / "wrist_in_line")
    result = pathsim.check(cell)
    evidence = Evidence(cell, result.trajectory, result.moves)
    assert list(twists(evidence, result.trajectory.tracks[1])) == []
    assert fitting_amplitude(evidence, result.trajectory.tracks[2]) is None


def test_an_amplitude_is_found_beside_a_bead_where_no_pass_is_unwoven():
    """Tried weaves are measured with a wire's end that beads may touch: all of it over its bead.

    Root and fill of one weave, the nozzle between two walls: room for 1.4 mm and no more.
    """
    weave = Weave("one", Pattern.SINE, 0.003, 0.5)
    cell = in_passes(
        Pass("root", leg=0.008), Pass("fill", up=0.001), seam=replace(ALONG, weave=weave)
    )
    cell = with_torch(cell, [("nozzle", 0.016, 0.014, 0.06)])
    room = cell.margins.seam
    walls = tuple(
        Body(f"wall {x:+.3f}", Role.FIXTURE, box((0.01, 0.4, 0.03)),
             frozen(pose(np.eye(3), AT + [x, 0.0, 0.04])))
        for x in (0.013 + 0.0014 + room, -0.013 - 0.0014 - room)
    )  # fmt: skip
    cell = replace(cell, bodies=(*cell.bodies, *walls))
    found = [f for f in pathsim.check(cell).findings if f.kind == FindingKind.WEAVE_ROOM]
    assert len(found) == 2
    for finding in found:
        fits = finding.numbers["fits"]
        assert 0.0006 < fits <= 0.0014  # the engine answers to within 0.5 mm
        seams = [replace(m, weave=replace(m.weave, amplitude=fits)) if m.weave else m
                 for m in plainly(cell.program.moves)]  # fmt: skip
        again = replace(cell, program=replace(cell.program, moves=tuple(seams)))
        kinds = {f.kind for f in on_seams(pathsim.check(again))}
        assert kinds <= {FindingKind.SEAM_OFF}  # the small cell's plate has no joint

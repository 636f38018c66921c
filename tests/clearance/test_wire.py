"""What the wire may touch and what not: ordinary joints stay clear, and every hole is a stop."""

import dataclasses
import itertools

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance.contact_rules import Zone, are_wire_and_part
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.stretches import stretches, wire_stretches
from pathsim.clearance.swept.engine import FastEngine
from pathsim.findings import FindingKind, Level
from pathsim.model import Role
from pathsim.motion import plan_program
from tests.builders import body, box, cell, joint, linear, seam, turning_table
from tests.clearance.joints import (
    HOME,
    LENGTH,
    UP,
    fillet,
    groove,
    lap,
    plate,
    seam_cell,
    solid,
)

ENGINES = [FastEngine, ReferenceEngine]
#: A plate across the wire under the seam.
FLAT = (0.2, 0.3, 0.02)


def grave(c, engine=None):
    """Findings at watch or stop about the wire or the seam's place."""
    result = check(c, engine=None if engine is None else engine(c))
    return [
        f
        for f in result.findings
        if f.level is not Level.NOTE and (f.piece == "wire" or f.kind is FindingKind.SEAM_OFF)
    ]


def wire_stops(c, engine=None):
    found = grave(c, engine)
    return {(f.move, f.body) for f in found if f.kind is FindingKind.CONTACT}


@pytest.mark.parametrize("amplitude", [0.0, 0.002, 0.004])
@pytest.mark.parametrize("wire, diameter", [(0.012, 0.0008), (0.018, 0.0012), (0.025, 0.0016)])
@pytest.mark.parametrize(
    "parts",
    [
        fillet(30), fillet(45), fillet(60), lap(60, 0.004), lap(45, 0.0), groove(60),
        [*groove(20, 0.03, 0.012), plate(np.pi / 2, "root"), plate(-np.pi / 2, "other root")],
    ],
    ids=["fillet 30", "fillet 45", "fillet 60", "lap", "edge", "V 60", "J"],
)  # fmt: skip
def test_ordinary_joints_give_no_alarm(parts, wire, diameter, amplitude):
    c = seam_cell(parts, wire=wire, diameter=diameter, amplitude=amplitude)
    assert grave(c) == []


def test_a_groove_that_is_filled_is_said_once():
    filled = groove(60, root=0.008)
    assert [f.kind for f in grave(seam_cell(filled))] == [FindingKind.SEAM_OFF]
    assert grave(seam_cell(filled, off_part=0.006, amplitude=0.003)) == []


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("depth", [0.012, 0.140])
def test_a_tip_in_solid_steel_is_a_stop(depth, engine):
    block = solid((0.4, 0.4, 0.4), (0.0, 0.0, depth - 0.2))
    found = grave(seam_cell([block]), engine)
    assert {f.kind for f in found if f.level is Level.STOP} == {
        FindingKind.CONTACT, FindingKind.SEAM_OFF,
    }  # fmt: skip
    assert {f.move for f in found if f.kind is FindingKind.CONTACT} >= {2, 3, 4}


@pytest.mark.parametrize("engine", ENGINES)
def test_a_rod_across_a_long_wire_is_a_stop(engine):
    plates = fillet(45)
    rod = solid((0.03, 0.003, 0.003), (0.0, 0.01, 0.06), name="rod")
    assert wire_stops(seam_cell(plates, wire=0.08), engine) == set()
    assert wire_stops(seam_cell([*plates, rod], wire=0.08), engine) == {(3, "rod")}


@pytest.mark.parametrize("engine", ENGINES)
def test_an_approach_that_drags_the_wire_through_a_rib_is_a_stop(engine):
    """It comes in sideways, 50 mm from the weld, where the wire is longer than that."""
    plates = [solid(FLAT, (0.0, 0.0, -0.01))]
    rib = solid((0.03, 0.004, 0.02), (0.0, -LENGTH / 2 - 0.05, 0.01), name="rib")
    points = {"above": np.array([0.0, -LENGTH / 2 - 0.09, 0.002])}
    for bodies, expected in ((plates, set()), ([*plates, rib], {(2, "rib")})):
        c = seam_cell(bodies, wire=0.06, points=points, surfacing=True)
        assert wire_stops(c, engine) >= expected
        assert {body for _, body in wire_stops(c, engine)} <= {"rib", "part"}
        assert ("rib" in {body for _, body in wire_stops(c, engine)}) == bool(expected)


@pytest.mark.parametrize("engine", ENGINES)
def test_a_seam_through_a_rib_is_a_stop(engine):
    rib = solid((0.03, 0.004, 0.05), (0.0, 0.0, 0.0), name="rib")
    assert wire_stops(seam_cell([*fillet(45), rib]), engine) == {(3, "rib")}


@pytest.mark.parametrize("engine", ENGINES)
def test_a_hop_between_two_close_seams_is_measured(engine):
    half = LENGTH / 2
    points = {"again": [0, half + 0.024, 0], "last": [0, half + 0.05, 0],
              "retract": np.array([0, half + 0.05, 0]) + 0.1 * UP}  # fmt: skip
    moves = [joint("above"), linear("start"), seam("end"), linear("again"), seam("last"),
             linear("retract"), joint("home")]  # fmt: skip
    rib = solid((0.03, 0.004, 0.004), (0.0, half + 0.012, 0.001), name="rib")
    for bodies, expected in ((fillet(45), set()), ([*fillet(45), rib], {(4, "rib")})):
        c = seam_cell(bodies, wire=0.018, points=points, moves=moves)
        stops = wire_stops(c, engine)
        assert {one for one in stops if one[1] == "rib"} == expected


def test_only_parts_may_be_touched_and_only_by_the_end():
    plates = fillet(45)
    fixture = [dataclasses.replace(p, role=Role.FIXTURE) for p in plates[:1]]
    assert {body for _, body in wire_stops(seam_cell([*fixture, plates[1]]))} == {"one"}
    lump = solid((0.004, 0.02, 0.004), (0.0, 0.0, 0.0085), name="lump")
    assert wire_stops(seam_cell([*plates, lump], wire_end=0.012)) == set()
    assert wire_stops(seam_cell([*plates, lump], wire_end=0.008)) == {(3, "lump")}
    # The weave's amplitude counts with it.
    wider = seam_cell([*plates, lump], wire_end=0.008, amplitude=0.004)
    assert wire_stops(wider) == set()


def test_a_body_called_wire_on_the_turning_table_has_no_rights():
    """It turns into a standing part while a seam is welded."""
    part = body(box((0.1, 0.1, 0.1), (0.6, 0.0, 0.0)), "part", Role.PART)
    arm = body(box((0.4, 0.02, 0.02), (0.4, 0.0, 0.0)), "wire", Role.FIXTURE, on_table=True)
    q = np.append(HOME, 0.5)
    c = cell({"home": q, "b": q + [0, 0, 0, 0, 0, 0, -0.5]}, [joint("b")], bodies=[part, arm],
             table=turning_table())  # fmt: skip
    piece = next(p for p in c.table_pieces if p.name == "wire")
    thing = next(t for t in obstacles(c) if t.name == "part")
    assert not piece.is_wire and not are_wire_and_part(piece, thing)
    assert c.wire is not piece and c.wire.is_torch
    assert any(f.piece == "wire" and f.body == "part" and f.level is Level.STOP
               for f in check(c).findings)  # fmt: skip


def test_the_end_may_touch_close_to_the_seams_ends_alone():
    c = seam_cell(fillet(45), amplitude=0.002, wire=0.03)
    trajectory = plan_program(c)
    down, weld, up = trajectory.tracks[1:4]
    for track, place in ((down, down.q[-1]), (up, up.q[0])):
        of_move = stretches(c, trajectory, track)
        of_wire = wire_stretches(c, trajectory, track, of_move)
        # Together they are the move, without a gap.
        assert of_wire[0].start == track.t[0] and of_wire[-1].end == track.t[-1]
        assert all(a.end == b.start for a, b in itertools.pairwise(of_wire))
        tip = c.tips(place[None])[0]
        for part in of_wire:
            times = np.linspace(part.start, part.end, 50)
            away = np.linalg.norm(c.tips(track.q_at(times)) - tip, axis=1)
            if part.touching_end:
                assert part.touching_end == pytest.approx(0.007)
                assert away.max() <= 0.005 + 1e-9 and away.max() > 0.0045
            elif part.zone is Zone.SEAM:
                assert away.min() > 0.0045 and away.max() <= 0.03 + 1e-9
            else:
                assert away.min() > 0.029
    (one,) = wire_stretches(c, trajectory, weld, stretches(c, trajectory, weld))
    assert one.touching_end == pytest.approx(0.007)
    assert stretches(c, trajectory, trajectory.tracks[0]) == wire_stretches(
        c, trajectory, trajectory.tracks[0], stretches(c, trajectory, trajectory.tracks[0])
    )


def test_the_wire_above_its_end_is_the_wire_without_it():
    c = seam_cell(fillet(45), wire=0.018, amplitude=0.002)
    (length,) = c.wires_above
    above, whole = c.wires_above[length], c.wire
    assert length == pytest.approx(0.007) and above.is_wire and above.name == whole.name
    to_tool = np.linalg.inv(c.torch.T_flange_tcp)
    heights = [
        -(p.mesh.vertices @ to_tool[:3, :3].T + to_tool[:3, 3])[:, 2] for p in (above, whole)
    ]
    assert [h.min() for h in heights] == pytest.approx([0.007, 0.0])
    assert [h.max() for h in heights] == pytest.approx([0.018, 0.018])
    short = seam_cell(fillet(45), wire=0.006, amplitude=0.002)
    assert list(short.wires_above.values()) == [None]


def test_no_margin_is_asked_of_the_wire_by_the_weld_and_none_is_lost_elsewhere():
    c = seam_cell(fillet(45), amplitude=0.002)
    result = check(c)
    for move in result.moves:
        assert all(pair.margin == 0 and pair.piece == "wire" for pair in move.wire)
        assert not any(pair in move.pairs for pair in move.wire)
        away = [p for p in move.pairs if p.piece == "wire" and p.body in ("one", "other")]
        assert all(pair.margin >= c.margins.approach for pair in away)
    assert [len(move.wire) for move in result.moves] == [0, 4, 2, 4, 0]

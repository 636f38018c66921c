"""The wire against parts, and seams on parts, held against an oracle that knows no rules."""

import dataclasses

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.swept.engine import FastEngine
from pathsim.findings import Evidence, Level
from pathsim.findings.contact import contacts
from pathsim.findings.seam_on_part import seams_on_parts
from pathsim.model import Mesh, Role
from pathsim.motion import plan_program
from pathsim.transforms import frozen, pose, rotation_about
from tests.builders import body, box, joint, linear, seam
from tests.clearance.joints import ACROSS, LENGTH, MIDDLE, UP, seam_cell, weave
from tests.clearance.wire_oracle import Box, forbidden, signed

#: Boxes and limits are told apart this finely by both, m.
SLACK = 4e-4


def random_boxes(rng):
    """Boxes round the seam: a plate under it, ribs and rods across it, things in the way."""
    along, half = np.array([0.0, 1.0, 0.0]), LENGTH / 2
    R = np.column_stack([ACROSS, along, UP])
    made = []
    for k in range(int(rng.integers(1, 5))):
        size = rng.uniform(0.002, 0.05, 3) if k else np.array([0.12, 0.16, 0.02])
        low = rng.uniform(-0.004, 0.003) - size[2] / 2
        high = rng.uniform(-0.01, 0.04)
        place = np.array(
            [
                rng.uniform(-0.03, 0.03) if k else 0.0,
                rng.uniform(-half - 0.04, half + 0.04) if k else 0.0,
                high if k else low,
            ]
        )
        axis = rng.normal(size=3)
        turn = rotation_about(
            axis / np.linalg.norm(axis), rng.uniform(0, 0.6) if k else rng.uniform(0, 0.1)
        )
        is_part = bool(k == 0 or rng.random() < 0.75)
        T = pose(R @ turn, MIDDLE[:3, 3] + R @ place)
        made.append(Box(f"box {k}", is_part, T, size / 2))
    return made


def random_cell(rng):
    """One seam, or two with a hop between them, among random boxes."""
    boxes = random_boxes(rng)
    bodies = []
    for each in boxes:
        made = body(box(2 * each.half), each.name, Role.PART if each.is_part else Role.FIXTURE)
        bodies.append(dataclasses.replace(made, T_world_body=frozen(each.T)))
    amplitude = float(rng.choice([0.0, 0.002]))
    reach = float(rng.uniform(0.002, 0.007))
    wire = float(rng.uniform(0.012, 0.05))
    half = LENGTH / 2
    aside = ACROSS * rng.uniform(-0.03, 0.03) + np.array([0.0, rng.uniform(-0.03, 0.03), 0.0])
    points = {"above": -np.array([0.0, half, 0.0]) + rng.uniform(0.01, 0.06) * UP + aside}
    welded = {"weave": weave(amplitude), "wire_end": reach}
    moves = [joint("above"), linear("start"), dataclasses.replace(seam("end"), **welded)]
    if rng.random() < 0.5:
        gap = rng.uniform(0.004, 0.03)
        points["again"] = np.array([0.0, half + gap, 0.0])
        points["last"] = np.array([0.0, half + gap + 0.02, 0.0])
        points["retract"] = points["last"] + 0.08 * UP
        moves += [linear("again"), dataclasses.replace(seam("last"), **welded)]
    moves += [linear("retract"), joint("home")]
    made = seam_cell(bodies, wire=wire, diameter=0.0012, moves=moves, points=points)
    return made, boxes


def wire_contacts(result):
    """One finding each, also where a doubt about a body puts several of them together."""
    found = contacts(Evidence(result.cell, result.trajectory, result.moves))
    return [f for f in found if f.piece == "wire"]


@pytest.mark.parametrize("make, count", [(FastEngine, 40), (ReferenceEngine, 6)])
def test_the_wire_is_found_wherever_it_is_in_what_it_must_not_be_in(make, count):
    rng = np.random.default_rng(11)
    hits = clear = 0
    for _ in range(count):
        made, boxes = random_cell(rng)
        result = check(made, engine=make(made))
        tracks = result.trajectory.tracks
        assert all(track.fault is None for track in tracks)
        said = wire_contacts(result)
        surely = forbidden(made, tracks, boxes, SLACK)
        for touch in surely:
            (found,) = [f for f in said if (f.move, f.body) == (touch.move, touch.box)]
            for time in touch.times:
                assert any(a - 0.01 <= time <= b + 0.01 for a, b in found.spans), (touch, found)
        assert result.has(Level.STOP) or not surely
        told, sure = ({(f.move, f.body) for f in said}, {(t.move, t.box) for t in surely})
        if told - sure:
            assert told <= {(t.move, t.box) for t in forbidden(made, tracks, boxes, -SLACK, 1500)}
        hits += len(sure)
        clear += not told
    assert hits > count / 2 and clear > count / 10


def test_seams_lie_where_the_oracle_has_them():
    rng = np.random.default_rng(5)
    inside = far = 0
    for _ in range(60):
        made, boxes = random_cell(rng)
        parts = [each for each in boxes if each.is_part]
        trajectory = plan_program(made)
        for place in seams_on_parts(made, trajectory):
            track = trajectory.tracks[place.move - 1]
            tips = made.tips(np.stack([track.q[0], track.q[-1]]))
            shares = np.linspace(0, 1, 3000)
            true = signed(parts, tips[0] + shares[:, None] * (tips[1] - tips[0]))
            assert place.lower - 1e-6 <= true.min() and true.max() <= place.upper + 1e-6
            # What is seen comes as near to it as looks stand apart.
            assert true.min() - 5e-5 <= place.least.distance <= true.min() + 1.1e-3
            assert true.max() - 1.1e-3 <= place.most.distance <= true.max() + 5e-5
            for spot in (place.least, place.most, place.start, place.end):
                here = signed(parts, (tips[0] + spot.share * (tips[1] - tips[0]))[None])[0]
                assert spot.distance == pytest.approx(here, abs=5e-5)
            limits = (place.allowance, place.allowance + 0.012)
            for limit, told in zip(limits, (place.is_off, place.is_nowhere), strict=True):
                assert told or true.max() <= limit
            assert place.is_deep or true.min() >= -(place.allowance + 0.005)
            if np.abs(true).max() < place.allowance - 1e-4:
                assert not place.is_off
            inside += bool(true.min() < -0.001)
            far += bool(true.max() > 0.004)
    assert inside > 5 and far > 2


def test_mesh_and_box_are_one():
    """The oracle's boxes are what is checked."""
    made, boxes = random_cell(np.random.default_rng(1))
    for each, thing in zip(boxes, made.bodies, strict=True):
        mesh: Mesh = thing.mesh.moved(thing.T_world_body)
        seen = (mesh.vertices - each.T[:3, 3]) @ each.T[:3, :3]
        np.testing.assert_allclose(np.abs(seen), np.tile(each.half, (8, 1)), atol=1e-12)

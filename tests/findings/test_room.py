"""Room beside seams by the trees, against the same measured plainly by python-fcl."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.clearance import ReferenceEngine
from pathsim.clearance.reference import mesh_distance
from pathsim.clearance.swept.engine import FastEngine
from pathsim.files import load_cell
from pathsim.findings import Evidence
from pathsim.findings.room import narrowest_room
from pathsim.model import Body, Cable, Pattern, Role, Weave
from pathsim.motion import plan_program
from pathsim.transforms import frozen, pose, rotation_about, translation
from tests.advice.test_welds_untouched import AT, small_cell
from tests.benchmarks.whole_scenes import many_seams
from tests.builders import box, joint, linear
from tests.clearance.test_beads import with_torch
from tests.findings.room_oracle import plain_room
from tests.model.test_multipass import ALONG

SAMPLES = Path(__file__).parents[2] / "sample_cells"
#: Cells whose programs have woven seams.
WOVEN = [
    path.name
    for path in sorted(SAMPLES.iterdir())
    if (path / "cell.yaml").exists() and "weaves:" in (path / "cell.yaml").read_text()
]


def woven(cell):
    """All woven seams of a cell that were laid, with the trajectory."""
    trajectory = plan_program(cell)
    return trajectory, [
        track
        for track in trajectory.tracks
        if track.move.weave is not None and track.fault is None and len(track.t) > 2
    ]


def both(cell, engine):
    trajectory, tracks = woven(cell)
    evidence = Evidence(cell, trajectory, (), engine=engine)
    return [(narrowest_room(evidence, track), plain_room(evidence, track)) for track in tracks]


def step(track_room):
    return max(track_room[1][0], track_room[1][1], 1e-4) / 2**7 + 1e-9


@pytest.mark.parametrize("make", [FastEngine, ReferenceEngine])
@pytest.mark.parametrize("name", WOVEN)
def test_room_is_what_plain_code_says_of_the_sample_cells(name, make):
    cell = load_cell(SAMPLES / name)
    found = both(cell, make(cell))
    for ours, plain in found:
        assert ours == pytest.approx(plain, abs=1e-12)


def test_there_are_sample_cells_with_little_room():
    """Else the comparisons above compare nothing but the widest way; one is on a turning table."""
    assert any(load_cell(SAMPLES / name).table is not None for name in WOVEN)
    cell = load_cell(SAMPLES / "deep_channel")
    trajectory, tracks = woven(cell)
    rooms = [plain_room(Evidence(cell, trajectory, ()), track) for track in tracks]
    widest = [2 * track.move.weave.amplitude for track in tracks]
    assert any(0 < min(room[:2]) < most for room, most in zip(rooms, widest, strict=True))


def walled(seed):
    """Seams with walls a few millimetres beside the torch, and a cable on it."""
    rng = np.random.default_rng(seed)
    cell = many_seams(3, 7, seed)
    _, tracks = woven(cell)
    bodies = list(cell.bodies)
    for k, track in enumerate(tracks):
        q = track.q[len(track.t) // 2]
        tip = cell.tool_poses(q[None])[0, :3, 3]
        off = rng.uniform(0.012, 0.016) * rng.choice([-1, 1])
        at = tip + [0.0, off, 0.05] + rng.normal(0, 0.001, 3)
        wall = box((0.02, 0.002, 0.05))
        bodies.append(Body(f"wall {k}", Role.FIXTURE, wall, frozen(translation(at))))
    low, high = cell.torch.pieces[0].mesh.bounds
    points = [[low[0] - 0.01, 0, high[2] / 2], [high[0] + 0.01, 0.005, high[2] / 2]]
    cable = Cable("lead", cell.arm.dof, np.array(points), 0.004, slack=0.002, margin=0.003)
    return replace(cell, bodies=tuple(bodies), cables=(cable,))


@pytest.mark.parametrize("seed", range(4))
def test_room_between_walls_is_what_plain_code_says(seed):
    cell = walled(seed)
    found = both(cell, FastEngine(cell))
    assert len(found) == 3
    for ours, plain in found:
        assert ours == pytest.approx(plain, abs=1e-12)


def test_no_mesh_is_made_ready_twice(monkeypatch):
    """What has a tree of ours gets none of python-fcl's."""
    cell = walled(0)
    engine = FastEngine(cell)
    trajectory, tracks = woven(cell)
    made = []
    plain = mesh_distance.Shape.__init__
    monkeypatch.setattr(mesh_distance.Shape, "__init__", lambda *a: made.append(1) or plain(*a))
    for track in tracks:
        narrowest_room(Evidence(cell, trajectory, (), engine=engine), track)
    assert not made


def test_a_body_of_one_role_more_is_asked_about():
    """A wall right at the torch leaves no room; far off it changes nothing."""
    cell = many_seams(1, 7, 3)
    trajectory, (track,) = woven(cell)
    free = narrowest_room(Evidence(cell, trajectory, (), engine=FastEngine(cell)), track)
    tip = cell.tool_poses(track.q[len(track.t) // 2][None])[0, :3, 3]

    def with_wall(at):
        wall = Body("wall", Role.FIXTURE, box((0.03, 0.03, 0.03)), frozen(translation(at)))
        return replace(cell, bodies=(*cell.bodies, wall))

    for off, expected in ((0.03, (0.0, 0.0)), (1.0, free[:2])):
        other = with_wall(tip + [0.0, 0.0, off])
        engine = FastEngine(other)
        found = narrowest_room(Evidence(other, plan_program(other), (), engine=engine), track)
        assert found[:2] == pytest.approx(expected, abs=1e-12)


def test_the_wire_above_its_end_has_no_more_room_than_a_narrow_groove():
    """By hand: walls lean out by 20 deg; the wire counts from 5 mm and the amplitude on.

    Its lowest part that counts, h over the root, goes h tan 20 less its radius aside before it
    touches. Nozzle and neck are far above the walls.
    """
    for amplitude, high in ((0.0025, 0.03), (0.001, 0.03), (0.0025, 0.004)):
        cell = in_groove(20.0, amplitude, high)
        trajectory, (track,) = woven(cell)
        evidence = Evidence(cell, trajectory, (), engine=FastEngine(cell))
        left, right, _ = narrowest_room(evidence, track)
        wire = cell.torch.wire_above(0.005 + amplitude).mesh
        radius = np.ptp(wire.vertices @ cell.torch.T_flange_tcp[:3, 0]) / 2
        lean = np.radians(20.0)
        room = (0.005 + amplitude) * np.tan(lean) - radius
        widest = 2 * amplitude
        expected = min(room, widest) if high > 0.005 + amplitude else widest
        step = widest / 2**7
        assert expected - 1.01 * step <= left <= expected + 1e-5
        assert expected - 1.01 * step <= right <= expected + 1e-5
        plain = plain_room(evidence, track)
        assert (left, right) == pytest.approx(plain[:2], abs=1e-12)


def in_groove(lean, amplitude, high):
    """One woven seam along y on the root of two plates whose faces lean out by ``lean`` deg."""
    sides = []
    for sign in (1.0, -1.0):
        R = rotation_about([0.0, 1.0, 0.0], sign * np.radians(lean))
        at = AT + R @ np.array([sign * 0.005, 0.0, high / 2])
        side = Body(f"side {sign:+.0f}", Role.PART, box((0.01, 0.4, high)), frozen(pose(R, at)))
        sides.append(side)
    seam = replace(ALONG, weave=Weave("w", Pattern.ZIGZAG, amplitude, 2.0))
    cell = small_cell([joint("above"), linear("start"), seam, linear("retract"), joint("home")])
    cell = with_torch(cell, [("nozzle", 0.004, 0.035, 0.05)])
    return replace(cell, bodies=tuple(sides))

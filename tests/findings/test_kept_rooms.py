"""Kept rooms say what measuring says, and nothing of another scene, seam or weave."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.files import load_cell
from pathsim.findings import Evidence, KeptRooms, room
from pathsim.findings.room import narrowest_room, room_for_weaves
from pathsim.model import Body, Role
from pathsim.motion import plan_program
from pathsim.transforms import frozen, translation
from tests.builders import box

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture
def cell():
    return load_cell(SAMPLES / "deep_channel")


@pytest.fixture
def counted(monkeypatch):
    """How often rooms were really measured."""
    calls = []

    def measure(evidence, track):
        calls.append(track.number)
        return narrowest_room(evidence, track)

    monkeypatch.setattr(room, "narrowest_room", measure)
    return calls


def findings(cell, rooms):
    return [(f.move, f.time, f.text) for f in
            room_for_weaves(Evidence(cell, plan_program(cell), (), rooms))]  # fmt: skip


def test_the_same_seams_are_measured_once_wherever_they_are_in_the_program(cell, counted):
    rooms = KeptRooms()
    first = findings(cell, rooms)
    assert first == findings(cell, None)
    measured = len(counted) // 2
    assert measured >= 1
    assert findings(cell, rooms) == first
    # a wait shifts all clock times behind it
    moves = (replace(cell.program.moves[0], wait=2.0), *cell.program.moves[1:])
    later = replace(cell, program=replace(cell.program, moves=moves))
    shifted = findings(later, rooms)
    assert len(counted) == 2 * measured
    assert shifted == [(m, pytest.approx(t), s) for m, t, s in findings(later, None)]
    assert first and shifted[0][1] == pytest.approx(first[0][1] + 2.0)


def changes(cell):
    """Another scene, or another seam: each decides a room."""
    index = next(i for i, m in enumerate(cell.program.moves) if m.weave is not None)
    seam = cell.program.moves[index]
    tip = cell.tool_poses(cell.points[seam.target].q[None])[0, :3, 3]
    wall = Body("wall", Role.FIXTURE, box((0.3, 0.004, 0.3)), frozen(translation(tip)))

    def with_seam(other):
        moves = (*cell.program.moves[:index], other, *cell.program.moves[index + 1 :])
        return replace(cell, program=replace(cell.program, moves=moves))

    point = cell.points[seam.target]
    moved = {**cell.points, seam.target: replace(point, q=frozen(point.q + np.radians(0.2)))}
    return {
        "body": replace(cell, bodies=(*cell.bodies, wall)),
        "margins": replace(cell, margins=replace(cell.margins, seam=2 * cell.margins.seam)),
        "weave": with_seam(replace(seam, weave=replace(seam.weave, amplitude=0.004))),
        "point": replace(cell, points=moved),
        "torch": replace(cell, torch=replace(cell.torch)),
    }


@pytest.mark.parametrize("what", ["body", "margins", "weave", "point", "torch"])
def test_whatever_decides_a_room_has_it_measured_again(cell, counted, what):
    rooms = KeptRooms()
    findings(cell, rooms)
    before = len(counted)
    other = changes(cell)[what]
    found = findings(other, rooms)
    assert len(counted) > before
    assert found == findings(other, None)

"""Angles of a seam that stays as it is are kept in a session: never for another part or place."""

from __future__ import annotations

from dataclasses import replace

from pathsim import Session, load_cell
from pathsim.findings import process_notes
from pathsim.model import Role
from pathsim.transforms import frozen, pose, rotation_about
from tests.advice.test_advise import SAMPLES


def test_a_seam_is_described_anew_where_its_part_stands_otherwise(monkeypatch):
    cell = load_cell(SAMPLES / "gate_hinge")
    turn = pose(rotation_about([0.0, 0.0, 1.0], 0.3), [0.0, 0.0, 0.0])
    bodies = tuple(
        replace(b, T_world_body=frozen(b.T_world_body @ turn)) if b.role is Role.PART else b
        for b in cell.bodies
    )
    other = replace(cell, bodies=bodies)
    worked_out = []
    real = process_notes.seam_angles
    monkeypatch.setattr(process_notes, "seam_angles", lambda *a: worked_out.append(1) or real(*a))
    session = Session()
    told = [[s.text for s in session.check(one).seams] for one in (cell, other, cell)]
    count = sum(move.arc_on for move in cell.program.moves)
    assert len(worked_out) == 2 * count  # the third is the first again
    assert told[0] == told[2] != told[1]
    assert told[1] == [s.text for s in Session().check(other).seams]

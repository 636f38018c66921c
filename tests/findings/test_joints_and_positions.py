"""The welding position of every kind of joint, however the part lies: by hand, from ISO 6947."""

import dataclasses

import numpy as np
import pytest

from pathsim.findings.weld_position import weld_position
from pathsim.findings.weld_section import Joint, section_at
from pathsim.transforms import pose, rotation_about
from tests.findings.test_torch_angles import JOINTS, X, Z, plates, torch

#: Two plates of 10 mm that meet in an outside corner of 90 deg, open by a bevel of 90 deg.
CORNER = plates(
    [(0, 0), (-7.07, 7.07), (-77.8, -63.6), (-70.7, -70.7)],
    [(0, 0), (70.7, -70.7), (77.8, -63.6), (7.07, 7.07)],
)
#: Of each joint, as it is drawn, how steep the line out of its weld stands over the plate at the
#: torch's side, deg: half the angle between the faces of a fillet, square to level plates.
OUT = {
    "square tee": 45, "square tee, flat torch": 45, "tee of 120 deg": 60, "tee of 60 deg": 30,
    "tee as one mesh": 45, "lap": 45, "V groove of 60 deg": 90, "single bevel of 45 deg": 90,
    "square butt": 90, "bead on plate": 90, "outside corner": 90,
}  # fmt: skip
ALL = {name: JOINTS[name][:2] for name in OUT if name in JOINTS} | {"outside corner": (CORNER, 0)}


def letters(steep):
    """Main position by the rotation of a level weld: each reaches half way to the next."""
    rotation = np.degrees(np.arcsin(np.sin(np.radians(steep))))
    for name, middle in (("PA", 90), ("PB", 45), ("PC", 0), ("PD", -45), ("PE", -90)):
        if abs(rotation - middle) < 22.5:
            return name
    raise AssertionError(rotation)


def position_of(parts, lean, R):
    """Main positions of a joint that is turned in the room with its torch."""
    T = pose(R, np.array([0.7, 0.1, 0.4]))
    there = [dataclasses.replace(b, T_world_body=T @ b.T_world_body) for b in parts]
    tool, travel = T @ torch(lean), R @ X
    found = section_at(there, tool, travel, Z)
    up = -tool[:3, 2] - (-tool[:3, 2] @ travel) * travel
    up /= np.linalg.norm(up)
    face = found.out[0] * np.cross(up, travel) + found.out[1] * up
    return found, weld_position(travel[None], face[None])


@pytest.mark.parametrize("turn", [0, 45, 90, 135, 180, 225, 270, 315])
@pytest.mark.parametrize("name", OUT)
def test_level_seams_of_every_joint(name, turn):
    """Turned about its own line: a tee goes from PB to PA, PB, PC, PD, PE and back."""
    parts, lean = ALL[name]
    steep = OUT[name] + turn
    found, position = position_of(parts, lean, rotation_about(X, np.radians(turn)))
    rotation = np.degrees(np.arcsin(np.sin(np.radians(steep))))
    assert np.degrees(position.slope.middle) == pytest.approx(0.0, abs=1e-6)
    assert np.degrees(position.rotation.middle) == pytest.approx(rotation, abs=1e-3)
    assert position.positions == (letters(steep),)
    assert found.joint is (Joint.LEVEL if OUT[name] == 90 and name != "outside corner"
                           else Joint.CORNER)  # fmt: skip


@pytest.mark.parametrize(("slope", "letter"), [(90, "PF"), (60, "PF"), (-60, "PG"), (-90, "PG")])
@pytest.mark.parametrize("name", OUT)
def test_upright_seams_of_every_joint(name, slope, letter):
    parts, lean = ALL[name]
    R = rotation_about(np.array([0.0, -1.0, 0.0]), np.radians(slope))
    _, position = position_of(parts, lean, R)
    assert np.degrees(position.slope.middle) == pytest.approx(slope, abs=1e-6)
    assert position.positions == (letter,)

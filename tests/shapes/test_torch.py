"""A torch from numbers: its tool centre point by closed form, its meshes round the true pieces."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim.errors import MeshError
from pathsim.shapes import Barrel, Neck, Nozzle, TorchSizes, build_torch
from tests.shapes import solids_in_numbers as true

RNG = np.random.default_rng(11)
BEND = np.radians(45)


def sizes(angle=BEND, radius=0.08, towards=0.0, tip=0.002):
    neck = Neck(0.024, angle, radius, 0.03, 0.05)
    nozzle = Nozzle(0.07, 0.026, 0.019, tip)
    return TorchSizes(Barrel(0.12, 0.06), neck, nozzle, Barrel(0.06, 0.09), towards)


def test_the_tool_centre_point_is_that_of_the_drawing():
    # By hand: up 60 + 120 + 30 mm, round the bend, then 50 + 70 - 2 + 15 mm along the wire.
    T = build_torch(sizes(), 0.015).T_flange_tcp
    c = np.sqrt(0.5)
    out, up = 0.08 * (1 - c) + 0.133 * c, 0.21 + 0.08 * c + 0.133 * c
    assert T[:3, 3] == pytest.approx([out, 0, up])
    assert T[:3, 2] == pytest.approx([c, 0, c])


@settings(max_examples=20, deadline=None)
@given(st.floats(0.05, 2.3), st.floats(0.02, 0.3), st.floats(-3, 3), st.floats(0.005, 0.1))
def test_it_turns_with_its_bend_and_goes_out_with_its_wire(angle, radius, towards, wire):
    T = build_torch(sizes(angle, radius, towards), wire).T_flange_tcp
    longer = build_torch(sizes(angle, radius, towards), wire + 0.01).T_flange_tcp
    assert longer[:3, 3] - T[:3, 3] == pytest.approx(0.01 * T[:3, 2])
    turn = np.array([np.cos(towards), np.sin(towards), 0])
    assert T[:3, 2] @ turn == pytest.approx(np.sin(angle))
    across = np.cross([0, 0, 1], turn)
    assert T[:3, 3] @ across == pytest.approx(0, abs=1e-12)


@settings(max_examples=8, deadline=None)
@given(st.floats(0.05, 2.3), st.floats(0.02, 0.3))
def test_the_neck_holds_the_true_bend(angle, radius):
    mesh = build_torch(sizes(angle, radius), 0.015).pieces["neck"]
    along, round_ = RNG.uniform(0, angle, 100), RNG.uniform(0, 2 * np.pi, 100)
    far = radius - (0.012 - 1e-9) * np.cos(round_)  # from the bend's axis
    points = np.column_stack(
        [radius - far * np.cos(along), (0.012 - 1e-9) * np.sin(round_), 0.21 + far * np.sin(along)]
    )
    assert (true.winding(mesh, points) > 0.5).all()


def test_every_piece_is_closed_and_the_nozzle_holds_its_cone():
    pieces = build_torch(sizes(angle=0.0), 0.015).pieces
    assert list(pieces) == ["torch mount", "torch body", "neck", "nozzle"]
    assert all(true.is_closed(mesh) and true.volume(mesh) > 0 for mesh in pieces.values())
    share, turn = RNG.uniform(1e-6, 1 - 1e-6, 100), RNG.uniform(0, 2 * np.pi, 100)
    radius = 0.013 + (0.0095 - 0.013) * share - 1e-9
    height = 0.06 + 0.12 + 0.03 + 0.05 + 0.07 * share
    points = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), height])
    assert (true.winding(pieces["nozzle"], points) > 0.5).all()


def test_a_tip_that_stands_out_makes_the_torch_longer():
    back = build_torch(sizes(tip=0.002), 0.015).T_flange_tcp
    out = build_torch(sizes(tip=-0.003), 0.015).T_flange_tcp
    assert np.linalg.norm(out[:3, 3] - back[:3, 3]) == pytest.approx(0.005)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"angle": 2.5}, "0 to 135 deg"),
        ({"radius": 0.0}, "radius 0 mm"),
        ({"radius": 0.01}, "bend's radius"),
        ({"tip": 0.08}, "tip 80 mm"),
    ],
)
def test_numbers_that_make_no_torch_are_refused(changed, says):
    with pytest.raises(MeshError, match=says):
        build_torch(sizes(**changed), 0.015)

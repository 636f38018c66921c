"""A point whose wrist centre is on axis 1: the arm goes there, and to no other place."""

import dataclasses

import numpy as np

from pathsim.model import Point
from pathsim.motion import plan_program
from pathsim.transforms import frozen, inverse, pose
from tests.builders import cell, joint, shop_arm


def test_a_point_keyed_in_over_axis_1_is_where_the_arm_goes():
    """Neat numbers put the wrist's centre on axis 1 but for the last bits: joint 1 may be any."""
    # A turn of 45 deg about z and one of 135 deg about y, as they come out, last bits and all.
    bit, square = 5.551115123125783e-17, 0.7071067811865475
    R = [[-square, -square, bit], [-square, square, bit], [-8.865115929175827e-17, 0, bit - 1]]
    turned = [[square, 0, square], [0, 1, 0], [-square, 0, square]]
    T_flange_tcp = pose(turned, [0.1, 0.0, 0.2])
    arm, looked = shop_arm(), 0
    for k in range(10):
        T = pose(R, [0.10000000000000003, 0.10000000000000003, 0.817157287525381 + 0.05 * k])
        for q in arm.inverse(T @ inverse(T_flange_tcp))[:8]:
            for first in (q[0], np.pi - 0.4, 0.4 - np.pi):
                home = q + [0.0, -0.1, 0.1, 0.1, 0.1, 0.1]
                home[0] = first
                points = {"home": home, "end": Point("end", None, frozen(T))}
                c = cell(points, [joint("end")], arm=arm)
                torch = dataclasses.replace(c.torch, T_flange_tcp=frozen(T_flange_tcp))
                (track,) = plan_program(dataclasses.replace(c, torch=torch)).tracks
                assert track.fault is None
                there = arm.pose(track.q[-1]) @ T_flange_tcp
                np.testing.assert_allclose(there, T, atol=1e-6)
                looked += 1
    assert looked > 100

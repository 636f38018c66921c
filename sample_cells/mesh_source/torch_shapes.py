"""The welding torch of the sample cells.

Every piece is drawn in the FLANGE FRAME: origin in the centre of the tool flange face, z out of
the flange, x up when all joints stand at zero.
"""

from __future__ import annotations

import numpy as np

from mesh_source.solids import (
    Solid,
    Triple,
    circle_of,
    cut,
    lathe,
    moved,
    prism,
    rod,
    rotated,
    screw_heads,
    swept_obb,
    union,
)

BEND_START = 200.0
BEND_RADIUS = 90.0
BEND_ANGLE = 45.0
BEND_END: Triple = (
    BEND_RADIUS * (1 - np.cos(np.radians(BEND_ANGLE))),
    0.0,
    BEND_START + BEND_RADIUS * np.sin(np.radians(BEND_ANGLE)),
)


def torch_body() -> Solid:
    """Adapter disc, collision cup, straight body and hose stub; flange frame."""
    profile = [(0, 0), (41, 0), (42, 1), (42, 7), (31, 7), (33, 9.5), (30.5, 12), (33, 14.5)]
    profile += [(32.5, 17), (29, 20), (22, 24), (0, 24)]
    cup = lathe(profile, sides=28)
    profile = [(0, 20), (20, 20), (20, 58), (18, 61), (18, 170), (19.5, 172), (19.5, 184)]
    profile += [(13, 192), (13, 200), (0, 200)]
    body = lathe(profile, sides=24)
    # A split lug with two screws, as the torch body would be clamped in its mount.
    lug = prism([(-10, 8), (10, 8), (10, 28), (7, 31), (-7, 31), (-10, 28)], 98, 130)
    slit = prism([(-1.3, 19.5), (1.3, 19.5), (1.3, 40), (-1.3, 40)], 90, 140)
    lug_screws = screw_heads("x", [(24.5, 106), (24.5, 122)], 10, 4, 3.4)
    screws = screw_heads("z", circle_of(6, 37, start=30), 7, 4, 3.2)
    return union(cut(union(cup, body, lug), slit), *screws, *lug_screws, *hose_stub())


def hose_stub() -> list[Solid]:
    """Cut-off cable and gas hose leaving sideways and bending back; flange frame."""
    straight, bend, angle_end = 26.0, 40.0, 50.0
    gland = [
        rod("x", (0, 40), -31, -10, 13, edge=1.5, sides=6),
        rod("x", (0, 40), -36, -10, 10.5, edge=1, sides=16),
    ]
    angles = np.radians(np.linspace(0, angle_end, 13))
    centres = [(-30.0, 0.0, 40.0)]
    headings = [(-1.0, 0.0, 0.0)]
    for angle in angles:
        centres.append(
            (
                -14 - straight - bend * float(np.sin(angle)),
                0.0,
                40 - bend * (1 - float(np.cos(angle))),
            )
        )
        headings.append((-float(np.cos(angle)), 0.0, -float(np.sin(angle))))
    radii = [8.2] + [9.2 if step % 2 else 7.8 for step in range(len(angles))]
    end, heading = np.array(centres[-1]), np.array(headings[-1])
    core_path = [tuple(end - 6 * heading), tuple(end + 5 * heading)]
    core = swept_obb(core_path, [headings[-1]] * 2, [4.5, 4.5], 12)
    return [*gland, swept_obb(centres, headings, radii, 12), core]


def torch_neck() -> Solid:
    """Goose neck, bent by 45 degrees towards +x; flange frame."""
    angles = np.radians(np.linspace(0, BEND_ANGLE, 13))
    centres = [(0.0, 0.0, 195.0)]
    headings = [(0.0, 0.0, 1.0)]
    for angle in angles:
        centres.append(
            (
                BEND_RADIUS * (1 - float(np.cos(angle))),
                0.0,
                BEND_START + BEND_RADIUS * float(np.sin(angle)),
            )
        )
        headings.append((float(np.sin(angle)), 0.0, float(np.cos(angle))))
    centres.append(tuple(np.array(BEND_END) + 28 * np.array(headings[-1])))
    headings.append(headings[-1])
    tube = swept_obb(centres, headings, [9.0] * len(centres), 28)
    nut = rod("z", (0, 0), 196, 206, 12, edge=1, sides=6)
    return union(tube, nut)


def torch_nozzle() -> Solid:
    """Insulator, gas nozzle and recessed contact tip; flange frame.

    The profile is turned along z from the end of the bend and then tilted into place.
    """
    profile = [(0, 25), (10, 25), (11, 26), (11, 29), (10.2, 29.6), (10.2, 31), (11, 31.6)]
    profile += [(11, 37), (9.4, 37.8), (9.4, 39), (10, 39.6), (10, 78), (9.2, 88), (8.2, 99.4)]
    profile += [(7.7, 100), (6.2, 100), (6, 99.7), (6, 85), (3, 85), (3, 95), (2, 97), (0, 97)]
    upright = lathe(profile, sides=24)
    return moved(rotated(upright, "y", BEND_ANGLE), BEND_END)

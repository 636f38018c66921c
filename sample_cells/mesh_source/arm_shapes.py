"""The six-axis arm of the sample cells.

Every link is drawn in the BASE FRAME with all joints at zero: origin on the floor of the base
flange, x forward, z up.  Joint 1 is the z axis; joint 2 runs along y through (160, 0, 430),
joint 3 along y through (160, 0, 1020), joint 4 along x through (160, 0, 1150); the wrist centre
is (800, 0, 1150) and the flange face lies at x = 900.
"""

from __future__ import annotations

from mesh_source.solids import (
    CORNERS,
    Solid,
    box,
    circle_of,
    cut,
    hull,
    lathe,
    mirrored,
    prism,
    rectangle,
    rod,
    rotated,
    screw_heads,
    soft_slab,
    swept_obb,
    union,
)

SHOULDER = (160, 430)
ELBOW = (160, 1020)
ROLL = (0, 1150)
WRIST = (800, 1150)


def base() -> Solid:
    """Foot and fixed column; base frame, joints at zero."""
    plate = soft_slab(rectangle(320, 320, 45), 0, 24, 3)
    profile = [(0, 12), (138, 12), (138, 34), (124, 60), (113, 120), (110, 205), (120, 218)]
    profile += [(120, 240), (112, 250), (0, 250)]
    column = lathe(profile, sides=32)
    rib = prism([(100, 15), (157, 15), (157, 32), (116, 130), (100, 130)], -8, 8, "y")
    ribs = [rotated(rib, "z", angle) for angle in (0, 90, 270)]
    inlet = soft_slab(rectangle(96, 104, 14), -158, -70, 6, "x")
    inlet.apply_translation((0, 0, 92))
    plugs = [rod("x", (y, 108), -182, -150, 17, edge=3, sides=20) for y in (-22, 22)]
    plugs += [rod("x", (y, 66), -170, -150, 8, sides=12) for y in (-24, 0, 24)]
    body = union(plate, column, inlet, *ribs, *plugs)
    holes = [rod("z", (125 * x, 125 * y), -1, 30, 9, sides=16) for x, y in CORNERS]
    recesses = [rod("z", (125 * x, 125 * y), 18, 30, 16, sides=16) for x, y in CORNERS]
    return cut(body, *holes, *recesses)


def link1() -> Solid:
    """Column that turns, with the shoulder fork of joint 2; base frame, joints at zero."""
    ring = lathe([(0, 249), (112, 249), (120, 258), (120, 276), (114, 282), (0, 290)], sides=40)
    casting = hull(
        rod("z", (0, 0), 270, 312, 114, edge=14, sides=28),
        rod("y", SHOULDER, -88, 88, 68, edge=12, sides=28),
    )
    # The fork opens upward wide enough for the upper arm to swing from far back to far forward.
    mouth = hull(rod("y", SHOULDER, -49, 49, 80, sides=28), box((-130, 420), (-49, 49), (432, 600)))
    turning_motor = [
        rod("z", (-70, 0), 280, 328, 50, edge=4, sides=20),
        rod("z", (-70, 0), 320, 412, 42, edge=8, sides=20),
        soft_slab(rectangle(30, 30, 6), -118, -90, 3, "x"),
    ]
    turning_motor[2].apply_translation((0, 0, 375))
    swing_motor = [
        rod("y", SHOULDER, 75, 104, 61, edge=4, sides=28),
        rod("y", SHOULDER, 100, 190, 52, edge=9, sides=24),
        rod("y", SHOULDER, 185, 197, 26, edge=4, sides=20),
        hull(box((146, 174), (135, 175), (440, 494)), box((150, 170), (139, 171), (490, 500))),
    ]
    cover = rod("y", SHOULDER, -100, -80, 58, edge=6, sides=26)
    screws = screw_heads("y", circle_of(6, 44, SHOULDER, 30), -100, -4, 5)
    screws += screw_heads("y", circle_of(6, 55, SHOULDER, 30), 104, 4, 3.5)
    return union(cut(casting, mouth), ring, cover, *turning_motor, *swing_motor, *screws)


def link2() -> Solid:
    """Upper arm from the shoulder to the elbow; base frame, joints at zero."""
    web = hull(
        rod("y", SHOULDER, -39, 39, 61, edge=10, sides=26),
        rod("y", ELBOW, -33, 33, 51, edge=10, sides=26),
    )
    pocket = hull(
        rod("y", (160, 560), 22, 60, 36, sides=24), rod("y", (160, 915), 22, 60, 27, sides=24)
    )
    eyes = [
        rod("y", SHOULDER, -47, 47, 70, edge=7, sides=28),
        rod("y", ELBOW, -40, 40, 62, edge=6, sides=28),
    ]
    motor = [
        rod("y", (160, 868), 15, 52, 50, edge=5, sides=24),
        rod("y", (160, 868), 48, 118, 41, edge=9, sides=24),
        hull(box((148, 172), (64, 100), (820, 850)), box((151, 169), (67, 97), (814, 850))),
    ]
    screws = screw_heads("y", circle_of(6, 45.5, (160, 868), 30), 52, 3.5, 3.5)
    body = cut(web, pocket, mirrored(pocket, "y"))
    return union(body, *eyes, *motor, *screws, *upper_arm_hose())


def upper_arm_hose() -> list[Solid]:
    """Cable hose strapped to the back of the upper arm; base frame, joints at zero."""
    path = [(112.0, 0.0, 590.0), (92.0, 0.0, 618.0), (88.0, 0.0, 655.0)]
    path += [(94.0, 0.0, 860.0), (99.0, 0.0, 900.0), (122.0, 0.0, 930.0)]
    headings = [(-0.8, 0.0, 0.6), (-0.4, 0.0, 0.92), (0.02, 0.0, 1.0)]
    headings += [(0.04, 0.0, 1.0), (0.3, 0.0, 0.95), (0.8, 0.0, 0.6)]
    hose = swept_obb(path, headings, [11.0] * 6, 12)
    straps = [soft_slab(rectangle(46, 32, 8, 2), z, z + 18, 2) for z in (665, 835)]
    for strap, x in zip(straps, (98, 103), strict=True):
        strap.apply_translation((x, 0, 0))
    return [hose, *straps]


def link3() -> Solid:
    """Elbow casting with the rear motors, up to joint 4; base frame, joints at zero."""
    barrel = rod("x", ROLL, 60, 332, 67, edge=8, sides=28)
    fork = hull(
        rod("y", ELBOW, -72, 72, 64, edge=9, sides=28),
        rod("x", ROLL, 90, 262, 66, edge=8, sides=24),
    )
    mouth = union(rod("y", ELBOW, -42, 42, 71, sides=28), box((0, 400), (-42, 42), (900, 1068)))
    nose = rod("x", ROLL, 310, 346, 62, edge=3, sides=28)
    covers = [rod("y", ELBOW, -80, -60, 50, edge=5, sides=24)]
    covers += [mirrored(covers[0], "y")]
    screws = screw_heads("y", circle_of(6, 39, ELBOW), -80, -3.5, 4.5)
    screws += screw_heads("y", circle_of(6, 39, ELBOW), 80, 3.5, 4.5)
    lid = soft_slab(rectangle(130, 70, 12, 2), 1205, 1221, 3)
    lid.apply_translation((190, 0, 0))
    screws += screw_heads("z", [(190 + 54 * x, 25 * y) for x, y in CORNERS], 1221, 3, 4)
    return union(cut(union(barrel, fork), mouth), nose, lid, *covers, *screws, *wrist_motors())


def wrist_motors() -> list[Solid]:
    """Rear block with the three wrist motors; base frame, joints at zero."""
    block = soft_slab(rectangle(126, 128, 34), -30, 80, 10, "x")
    block.apply_translation((0, 0, 1152))
    cans = [(-29, 1126), (29, 1126), (0, 1180)]
    motors = [rod("x", at, -98, -20, 25, edge=6, sides=16) for at in cans]
    rims = [rod("x", at, -42, -20, 28, sides=16) for at in cans]
    return [block, *motors, *rims]


def link4() -> Solid:
    """Forearm tube and wrist fork, up to joint 5; base frame, joints at zero."""
    profile = [(0, 346), (65, 346), (66, 348), (66, 360), (64, 362), (57, 364), (54, 380)]
    tube = lathe([*profile, (44, 690), (0, 690)], "x", ROLL, 28)
    fork = hull(
        rod("x", ROLL, 640, 690, 44, sides=28), rod("y", WRIST, -54, 54, 40, edge=8, sides=28)
    )
    # Deep enough for the knuckle to fold back past a right angle inside the fork.
    mouth = union(rod("y", WRIST, -38, 38, 74, sides=32), box((800, 900), (-38, 38), (1090, 1210)))
    caps = [rod("y", WRIST, -57, -50, 31, edge=2, sides=22)]
    caps += [mirrored(caps[0], "y")]
    screws = screw_heads("y", circle_of(6, 24, WRIST), -57, -2.5, 3)
    screws += screw_heads("y", circle_of(6, 24, WRIST), 57, 2.5, 3)
    screws += screw_heads("x", circle_of(10, 60.5, ROLL, 18), 361.5, 5, 3.5)
    lid = hull(
        soft_slab(rectangle(120, 40, 10, 2), 1150, 1201, 2),
        soft_slab(rectangle(112, 34, 8, 2), 1150, 1203, 1),
    )
    lid.apply_translation((520, 0, 0))
    screws += screw_heads("z", [(520 + 48 * x, 12 * y) for x, y in CORNERS], 1203, 2.5, 3)
    return union(tube, cut(fork, mouth), lid, *caps, *screws)


def link5() -> Solid:
    """Wrist knuckle inside the fork; base frame, joints at zero."""
    knuckle = hull(
        rod("y", WRIST, -35, 35, 39, edge=7, sides=28),
        rod("x", ROLL, 838, 862, 35, edge=1, sides=28),
    )
    profile = [(0, 848), (34, 848), (37, 851), (37, 859), (35.5, 861), (33, 861), (33, 870)]
    return union(knuckle, lathe([*profile, (0, 870)], "x", ROLL, 28))


def link6() -> Solid:
    """Tool flange; base frame, joints at zero."""
    profile = [(0, 870), (31, 870), (31, 876), (38, 877), (40, 879), (40, 898.5), (38.5, 900)]
    disc = lathe([*profile, (0, 900)], "x", ROLL, 32)
    pilot = rod("x", ROLL, 894, 910, 15, sides=22)
    holes = [rod("x", at, 886, 910, 3.5, sides=12) for at in circle_of(6, 29, ROLL, 30)]
    dowel = rod("x", circle_of(6, 29, ROLL)[1], 890, 910, 2.5, sides=10)
    return cut(disc, pilot, dowel, *holes)

"""Table, pedestal and clamping gear of the sample cells; each is drawn in a frame of its own."""

from __future__ import annotations

import numpy as np

from mesh_source.solids import (
    CORNERS,
    Pair,
    Solid,
    box,
    cut,
    hull,
    lathe,
    mirrored,
    moved,
    prism,
    rectangle,
    rod,
    rotated,
    screw_heads,
    soft_slab,
    union,
)


def table() -> Solid:
    """Welding table; origin in the middle of the top face, x along the long side."""
    slots = [
        point
        for x in np.arange(525.0, -526.0, -150.0)
        for point in (
            *[(x + 9, 0), (x + 9, -14), (x + 16, -14), (x + 16, -27)],
            *[(x - 16, -27), (x - 16, -14), (x - 9, -14), (x - 9, 0)],
        )
    ]
    edges: list[Pair] = [(-597, 0), (-600, -3), (-600, -40), (600, -40), (600, -3), (597, 0)]
    top = prism([*slots, *edges], -450, 450, "y")
    frame = prism(rectangle(1120, 820), -110, -30, holes=[rectangle(1020, 720)])
    return union(top, frame, *table_legs(), *table_braces())


def table_legs() -> list[Solid]:
    """Four legs on levelling feet; table frame."""
    legs = []
    for x, y in CORNERS:
        at = (515 * x, 365 * y)
        leg = soft_slab(rectangle(90, 90, 10, 2), -668, -35, 3)
        foot = lathe(
            [(0, -700), (42, -700), (42, -694), (16, -684), (14, -684), (14, -660), (0, -660)],
            at=at,
            sides=20,
        )
        nut = rod("z", at, -680, -666, 24, sides=6)
        legs += [moved(leg, (*at, 0)), foot, nut]
    return legs


def table_braces() -> list[Solid]:
    """Lower rails and crossed flat bars between the legs; table frame."""
    rails = [box((-515, 515), (340, 390), (-590, -540))]
    rails += [box((x - 25, x + 25), (-365, 365), (-590, -540)) for x in (-515, 515)]
    low, high = -565.0, -150.0
    bars = []
    for x in (-515, 515):
        for side, offset in ((1, 2), (-1, -8)):
            bars.append(
                hull(
                    rod("x", (-345 * side, low), x + offset, x + offset + 8, 20, sides=16),
                    rod("x", (345 * side, high), x + offset, x + offset + 8, 20, sides=16),
                )
            )
    for side, offset in ((1, 2), (-1, -8)):
        bars.append(
            hull(
                rod("y", (-495 * side, low), 365 + offset, 373 + offset, 20, sides=16),
                rod("y", (495 * side, high), 365 + offset, 373 + offset, 20, sides=16),
            )
        )
    return [*rails, *bars]


def pedestal() -> Solid:
    """Riser under the arm; origin in the middle of its top face, z up."""
    top = soft_slab(rectangle(360, 360, 20), -28, 0, 3)
    foot = soft_slab(rectangle(460, 460, 24), -500, -472, 3)
    # The small cones at both ends are the fillet welds between the tube and its plates.
    profile = [(0, -480), (124, -480), (124, -472), (112, -460), (112, -40), (124, -28)]
    column = lathe([*profile, (124, -20), (0, -20)], sides=36)
    upper = prism([(100, -20), (172, -20), (172, -40), (120, -130), (100, -130)], -7, 7, "y")
    lower = prism([(100, -480), (220, -480), (220, -458), (124, -330), (100, -330)], -7, 7, "y")
    gussets = [rotated(g, "z", 90 * n) for n in range(4) for g in (upper, lower)]
    hatch = soft_slab(rectangle(90, 150, 16), 90, 118, 3, "x")
    hatch.apply_translation((0, 0, -240))
    hatch = rotated(hatch, "z", 45)
    body = union(top, foot, column, hatch, *gussets)
    bolts = [rod("z", (125 * x, 125 * y), -40, 10, 8, sides=16) for x, y in CORNERS]
    body = cut(body, *bolts)
    anchors = [(190 * x, 190 * y) for x, y in CORNERS]
    washers = [rod("z", at, -473, -468, 26, sides=16) for at in anchors]
    nuts = [rod("z", at, -470, -454, 17, sides=6) for at in anchors]
    studs = [rod("z", at, -470, -442, 9, sides=12) for at in anchors]
    return union(body, *washers, *nuts, *studs)


def fixture_plate() -> Solid:
    """Plate with a grid of holes; origin in the middle of its underside, z up."""
    plate = soft_slab(rectangle(420, 320, 14), 0, 20, 1.5)
    holes = [
        rod("z", (x, y), -5, 25, 8, sides=12)
        for x in np.arange(-150.0, 151.0, 50.0)
        for y in np.arange(-100.0, 101.0, 50.0)
    ]
    return cut(plate, *holes)


def toggle_clamp() -> Solid:
    """Toggle clamp, closed, on its block; origin under the middle of the block, bar along +x."""
    block = soft_slab(rectangle(60, 40, 4, 2), 0, 25, 1.5)
    foot = soft_slab(rectangle(52, 34, 5, 2), 22, 29, 1)
    screws = screw_heads("z", [(19.5 * x, 11.5 * y) for x, y in CORNERS], 29, 4, 4)
    post = hull(box((-15, 15), (-5, 5), (28, 30)), box((-12, 12), (-5, 5), (50, 56)))
    ear = union(
        hull(
            box((-15, 15), (5, 8), (24, 30)),
            rod("y", (10, 68), 5, 8, 7, sides=16),
            rod("y", (-8, 52), 5, 8, 6, sides=16),
        ),
        rod("y", (10, 68), -1, 12, 4, sides=12),
        rod("y", (-8, 52), -1, 12, 3.5, sides=12),
    )
    bar = prism(
        [(-13, 65), (-10, 62), (20, 62), (62, 66), (95, 67), (95, 74), (-10, 74), (-13, 71)],
        -4.5,
        4.5,
        "y",
    )
    return union(
        block, foot, *screws, post, ear, mirrored(ear, "y"), bar, *spindle(), *clamp_handle()
    )


def spindle() -> list[Solid]:
    """Threaded spindle with its rubber foot at the end of the bar; clamp frame."""
    at = (89, 0)
    thread: list[Pair] = [(0, 62), (4, 62)]
    for z in range(80, 94, 4):
        thread += [(4, z), (3.1, z + 2)]
    thread += [(4, 96), (3, 97), (0, 97)]
    rubber = [(0, 60), (6.5, 60), (8.5, 62), (8.5, 64.5), (5, 67.5), (0, 67.5)]
    nut = rod("z", at, 73, 80, 7.5, edge=0.8, sides=6)
    return [lathe(thread, at=at, sides=12), lathe(rubber, at=at, sides=16), nut]


def clamp_handle() -> list[Solid]:
    """Hand lever with grip, standing up behind the pivot; clamp frame."""
    cheek = hull(
        rod("y", (-6, 69), 4, 8.5, 6.5, sides=16), rod("y", (-13, 100), 4, 8.5, 5.5, sides=16)
    )
    link = hull(rod("y", (-8, 52), 8, 11, 5.5, sides=12), rod("y", (-11, 84), 8, 11, 5.5, sides=12))
    pins = [
        rod("y", (-6, 69), -11.5, 11.5, 3.5, sides=12),
        rod("y", (-11, 84), -13, 13, 3.2, sides=12),
    ]
    neck = hull(
        rod("y", (-11, 92), -5, 5, 5.5, sides=16), rod("y", (-14.5, 112), -4, 4, 5, sides=16)
    )
    profile = [(0, 0), (6, 0), (8, 2), (8.6, 10), (10, 26), (11, 42), (10.6, 50), (8.5, 56)]
    profile += [(5, 59.3), (0, 60.5)]
    grip = moved(rotated(lathe(profile, sides=18), "y", -6), (-13.8, 0, 105))
    plates = [cheek, link]
    return [*plates, *[mirrored(plate, "y") for plate in plates], *pins, neck, grip]


def stop_block() -> Solid:
    """Locating stop; origin under its middle, the locating face looks along +x."""
    outline: list[Pair] = [(-20, 1), (-19, 0), (20, 0), (20, 44), (19, 45), (6, 45), (3, 42)]
    body = prism([*outline, (3, 19), (0, 16), (-18, 16), (-20, 14)], -15, 15, "y")
    at = (-9.0, 0.0)
    recess = rod("z", at, 14.5, 20, 8.6, sides=24)
    head = rod("z", at, 13, 23, 6.8, edge=0.8, sides=20)
    socket = rod("z", at, 18, 30, 3.6, sides=6)
    washer = rod("z", at, 13, 15.8, 8.2, sides=24)
    body = cut(body, *[_corner_cut(sx, sy) for sx, sy in CORNERS], recess)
    return union(body, washer, cut(head, socket))


def _corner_cut(sx: float, sy: float) -> Solid:
    """Knife that breaks one upright edge of the stop block."""
    return prism(
        [(20 * sx + sx, 15 * sy - 2 * sy), (20 * sx - 2 * sx, 15 * sy + sy), (21 * sx, 16 * sy)],
        -1,
        60,
    )

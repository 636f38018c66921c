"""Turning table, rail and girder of the sample cells; each is drawn in a frame of its own."""

from __future__ import annotations

import numpy as np

from mesh_source.solids import (
    Solid,
    box,
    cut,
    hull,
    lathe,
    moved,
    prism,
    rod,
    rotated,
    union,
)


def turning_stand() -> Solid:
    """Foot and bearing of a turning table; origin on the axis, 30 mm above its top."""
    profile = [(0, -720), (230, -720), (230, -696), (110, -680), (92, -640), (92, -150)]
    profile += [(135, -90), (135, -30), (0, -30)]
    motor = union(rod("x", (0, -300), 80, 230, 48, edge=6), rod("x", (0, -300), 225, 250, 30))
    return union(lathe(profile, sides=40), motor)


def turning_plate() -> Solid:
    """Round plate with four slots; origin on the axis, in the upper face."""
    plate = lathe([(0, -30), (196, -30), (200, -26), (200, -4), (196, 0), (0, 0)], sides=64)
    slot = box((70, 210), (-7, 7), (-12, 5))
    return cut(plate, *[rotated(slot, "z", angle) for angle in (45, 135, 225, 315)])


def tilt_stand() -> Solid:
    """Headstock beside a tilt-turn table; origin on its tilt axis (y), in its bearing face."""
    column = hull(box((-70, 70), (0, 160), (-580, -60)), rod("y", (0, 0), 0, 160, 105, sides=40))
    foot = box((-190, 150), (-40, 200), (-580, -556))
    return union(column, foot, rod("y", (0, 0), 150, 250, 62, edge=6))


def tilt_frame() -> Solid:
    """Arm of a tilt-turn table; origin on the tilt axis (y), over the middle of the table.

    Its disc lies on the headstock 260 mm out, the table rests on its bearing 110 mm over the axis.
    """
    disc = rod("y", (0, 0), 230, 260, 100, sides=40)
    arm = hull(box((-62, 62), (206, 236), (-110, 40)), rod("y", (0, 0), 206, 236, 70, sides=40))
    beam = box((-70, 70), (-90, 236), (-110, -66))
    bearing = lathe([(0, -80), (105, -80), (105, 60), (135, 80), (135, 110), (0, 110)], sides=40)
    return union(disc, arm, beam, bearing)


def slanted_block() -> Solid:
    """Block whose top leans by 15 degrees towards +x; origin in the middle of its underside."""
    rise = 100 * float(np.tan(np.radians(15)))
    outline = [(-100, 0), (100, 0), (100, 42 - rise), (-100, 42 + rise)]
    return prism(outline, -100, 100, "y")


def rail_bed() -> Solid:
    """Beam with two guides, 2.4 m along y; origin in the middle of its underside."""
    beam = box((-150, 150), (-1200, 1200), (14, 154))
    guide = prism([(-16, 0), (16, 0), (10, 20), (-10, 20)], -1200, 1200, "y")
    guides = [moved(guide, (x, 0, 0)) for x in (-95, 95)]
    ends = [box((-120, 120), (y - 12, y + 12), (-4, 20)) for y in (-1188, 1188)]
    return union(beam, *guides, *ends)


def girder() -> Solid:
    """Upright web on a flat flange, 900 mm along y; origin in the middle of the underside."""
    outline = [(-80, 0), (80, 0), (80, 12), (5, 12), (5, 150), (-5, 150), (-5, 12), (-80, 12)]
    return prism(outline, -450, 450, "y")


def trestle() -> Solid:
    """Low trestle for a girder; origin in the middle of its upper face, on the floor below."""
    top = box((-120, 120), (-60, 60), (-40, 0))
    legs = [box((x - 20, x + 20), (-50, 50), (-820, -30)) for x in (-90, 90)]
    return union(top, *legs, box((-110, 110), (-50, 50), (-500, -460)))

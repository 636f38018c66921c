"""Workpieces of the sample cells; each is drawn in a frame of its own."""

from __future__ import annotations

from mesh_source.solids import (
    CORNERS,
    Solid,
    cut,
    lathe,
    prism,
    rectangle,
    rod,
    union,
)


def gate_post() -> Solid:
    """Square tube along y; origin in the middle of its underside, z up."""
    outer = [(x, z + 30) for x, z in rectangle(60, 60, 6, 6)]
    inner = [(x, z + 30) for x, z in rectangle(52, 52, 2, 3)]
    return prism(outer, -260, 260, "y", holes=[inner])


def hinge_plate() -> Solid:
    """Hinge leaf with its knuckle; origin at the lower edge of the face x = 0, middle of y.

    The sheet is rolled forward at its upper edge, so the barrel touches the plane of the face
    x = 0 and stands out towards +x.
    """
    centre = (12, 60)
    leaf = prism([(0, 0), (8, 0), (8, 60), (0, 60)], -65, 65, "y")
    barrel = rod("y", centre, -65, 65, 12, sides=40)
    bore = rod("y", centre, -80, 80, 7, sides=32)
    # Narrow gap where the rolled end of the sheet comes back to the leaf.
    gap = prism([(9.5, 46), (10.7, 46), (11.6, 56), (10.4, 56)], -80, 80, "y")
    holes = [rod("x", (y, 23), -5, 20, 4.5, sides=24) for y in (-42, 0, 42)]
    return cut(union(leaf, barrel), bore, gap, *holes)


def collar_base() -> Solid:
    """Square base plate; origin in the middle of its underside, z up."""
    plate = prism(rectangle(200, 200, 4, 3), 0, 12)
    return cut(plate, *[rod("z", (78 * x, 78 * y), -5, 20, 7, sides=32) for x, y in CORNERS])


def collar_pipe() -> Solid:
    """Standing pipe; origin in the middle of its underside, z up."""
    return lathe([(40, 0), (45, 0), (45, 110), (40, 110)], sides=96)


def channel() -> Solid:
    """U channel on its back with a stiffener strip inside; origin under its middle, y along it."""
    outline = [(27.0, 4.0), (27.0, 66.0), (22.0, 66.0), (22.0, 6.0), (15.0, 6.0), (15.0, 8.0)]
    outline += [(-x, z) for x, z in reversed(outline)]
    heel = [(-26.4, 1.8), (-25.2, 0.6), (-23.0, 0.0)]
    outline += [*heel, *[(-x, z) for x, z in reversed(heel)]]
    return prism(outline, -150, 150, "y")


def bevelled_plate() -> Solid:
    """Plate of a butt weld, its edge bevelled by 30 deg; origin at the middle of its lower edge.

    The edge lies along y, the plate on the side of +x; two of them make a groove of 60 deg.
    """
    outline = [(0.0, 0.0), (90.0, 0.0), (90.0, 10.0), (5.7735, 10.0)]
    return prism(outline, -75, 75, "y")


def backing_bar() -> Solid:
    """Copper bar under a butt weld, a channel along it; origin in the middle of its underside."""
    outline = [(-60.0, 0.0), (60.0, 0.0), (60.0, 10.0), (5.0, 10.0), (3.0, 7.5)]
    return prism([*outline, (-3.0, 7.5), (-5.0, 10.0), (-60.0, 10.0)], -85, 85, "y")


def skewed_plate() -> Solid:
    """Web that leans by 30 deg over its base plate; origin at the middle of its lower edge, z up.

    Its edge lies along y, cut level. Its face towards -x stands at 60 deg to the base plate, the
    other one at 120 deg.
    """
    outline = [(0.0, 0.0), (11.547, 0.0), (-40.415, 90.0), (-51.962, 90.0)]
    return prism(outline, -80, 80, "y")


def web_base() -> Solid:
    """Plate under the skewed web; origin in the middle of its underside, z up."""
    return prism(rectangle(260, 200, 3), 0, 12)

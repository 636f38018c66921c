"""Six-axis arms drawn from their dimensions.

Every link is drawn in the BASE FRAME with all joints at zero: origin on the floor of the base
flange, x forward, z up.  The upper arm is a lever that hangs on the left (+y) side of the
shoulder and of the elbow, so that joints 2 and 3 turn freely beside their neighbours; the wrist
is a knuckle inside a fork.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from mesh_source.solids import (
    CORNERS,
    Pair,
    Solid,
    box,
    circle_of,
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
    swept_obb,
    union,
)


@dataclass(frozen=True)
class ArmSize:
    """Dimensions of one arm in millimetres.

    Joint 1 is the z axis.  With a wrist offset the axis of joint 5 lies that far below the axis
    of joint 4, and the three wrist axes do not meet.
    """

    shoulder_height: float
    shoulder_offset: float
    upper_arm: float
    elbow_offset: float
    forearm: float
    wrist_offset: float
    flange: float
    girth: float  # radius of the upper arm's eye at the shoulder

    @property
    def shoulder(self) -> Pair:
        """Joint 2 in the xz plane."""
        return (self.shoulder_offset, self.shoulder_height)

    @property
    def elbow(self) -> Pair:
        """Joint 3 in the xz plane."""
        return (self.shoulder_offset, self.shoulder_height + self.upper_arm)

    @property
    def roll(self) -> Pair:
        """Joint 4 in the yz plane."""
        return (0, self.elbow[1] + self.elbow_offset)

    @property
    def wrist(self) -> Pair:
        """Joint 5 in the xz plane."""
        return (self.shoulder_offset + self.forearm, self.roll[1] - self.wrist_offset)

    @property
    def side(self) -> float:
        """Plane square to y in which the upper arm meets the shoulder and the elbow."""
        return 0.92 * self.girth

    @property
    def turntable(self) -> float:
        """Height of the plane between base and link 1."""
        return 0.55 * self.shoulder_height

    @property
    def nose(self) -> float:
        """Where along x link 4 meets link 3."""
        return self.shoulder_offset + max(0.3 * self.forearm, 1.45 * self.girth)

    @property
    def cheek(self) -> float:
        """Half the width of the wrist fork's opening."""
        return (0.42 if self.wrist_offset else 0.38) * self.flange


BENCH = ArmSize(340, 60, 400, 40, 430, 0, 80, girth=56)
LONG = ArmSize(540, 180, 870, 160, 960, 0, 120, girth=110)
OFFSET_WRIST = ArmSize(420, 110, 560, 90, 620, 70, 90, girth=62)


def base(size: ArmSize) -> Solid:
    """Foot and fixed column."""
    g, top = size.girth, size.turntable
    plate = soft_slab(rectangle(3.9 * g, 3.9 * g, 0.7 * g), 0, 0.3 * g, 0.05 * g)
    profile = [(0, 0.2 * g), (1.75 * g, 0.2 * g), (1.75 * g, 0.36 * g), (1.5 * g, 0.75 * g)]
    profile += [(1.38 * g, 0.5 * top), (1.38 * g, top - 0.5 * g), (1.55 * g, top - 0.36 * g)]
    profile += [(1.55 * g, top - 0.06 * g), (1.49 * g, top), (0, top)]
    column = lathe(profile, sides=36)
    outline = [(g, 0.2 * g), (1.88 * g, 0.2 * g), (1.88 * g, 0.4 * g), (1.4 * g, top - 0.5 * g)]
    rib = prism([*outline, (g, top - 0.5 * g)], -0.1 * g, 0.1 * g, "y")
    ribs = [rotated(rib, "z", angle) for angle in (0, 90, 270)]
    middle, box_height = 0.5 * top, min(1.3 * g, 0.62 * top)
    inlet = soft_slab(rectangle(1.4 * g, box_height, 0.15 * g), -1.85 * g, -g, 0.08 * g, "x")
    upper, lower = middle + 0.22 * box_height, middle - 0.25 * box_height
    places = [((-0.33 * g, upper), 0.24 * g), ((0.33 * g, upper), 0.24 * g)]
    places += [((y * g, lower), 0.11 * g) for y in (-0.35, 0, 0.35)]
    plugs = [rod("x", at, -1.85 * g - r, -1.8 * g, r, edge=0.2 * r, sides=16) for at, r in places]
    bolts = [(1.6 * g * x, 1.6 * g * y) for x, y in CORNERS]
    holes = [rod("z", at, -1, 0.5 * g, 0.12 * g, sides=16) for at in bolts]
    holes += [rod("z", at, 0.24 * g, 0.5 * g, 0.21 * g, sides=16) for at in bolts]
    return cut(union(plate, column, moved(inlet, (0, 0, middle)), *ribs, *plugs), *holes)


def link1(size: ArmSize) -> Solid:
    """Column that turns, with the shoulder block of joint 2 and two motors."""
    g, low, side, at = size.girth, size.turntable, size.side, size.shoulder
    ring = rod("z", (0, 0), low, low + 0.38 * g, 1.55 * g, edge=0.07 * g, sides=28)
    casting = hull(
        rod("z", (0, 0), low + 0.3 * g, low + 0.75 * g, 1.42 * g, edge=0.2 * g, sides=28),
        rod("y", at, -side, side - 0.04 * g, 0.98 * g, edge=0.15 * g, sides=28),
    )
    # The upper arm swings past the left side; the right side is cut alike for the motor.
    shelf = max(at[1] - 1.3 * g, low + 0.55 * g)
    beside = box((-4 * g, at[0] + 4 * g), (side - 0.04 * g, side + g), (shelf, at[1] + 2 * g))
    casting = cut(casting, beside, mirrored(moved(beside, (0, 0.04 * g, 0)), "y"))
    seat = rod("y", at, side - 0.2 * g, side, 0.84 * g, sides=28)
    back = (-0.82 * g, 0)
    turning = [
        rod("z", back, low + 0.2 * g, low + g, 0.66 * g, edge=0.08 * g, sides=20),
        rod("z", back, low + 0.9 * g, low + 2.1 * g, 0.55 * g, edge=0.12 * g, sides=20),
    ]
    plug = soft_slab(rectangle(0.5 * g, 0.5 * g, 0.1 * g), -1.52 * g, -g, 0.06 * g, "x")
    turning.append(moved(plug, (0, 0, low + 1.65 * g)))
    swing, screws = side_motor(size, at, 0.86)
    return union(casting, ring, seat, *turning, *swing, *screws)


def side_motor(size: ArmSize, at: Pair, scale: float) -> tuple[list[Solid], list[Solid]]:
    """Motor on the right side of the shoulder or of the elbow, and its screws."""
    r, side = scale * size.girth, size.side
    face = side + 0.28 * r
    parts = [
        rod("y", at, -face, -side + 0.3 * r, r, edge=0.08 * r, sides=24),
        rod("y", at, -face - 0.95 * r, -face + 0.1 * r, 0.72 * r, edge=0.09 * r, sides=20),
        rod("y", at, -face - 1.05 * r, -face - 0.8 * r, 0.42 * r, edge=0.06 * r, sides=16),
    ]
    plug = soft_slab(rectangle(0.55 * r, 0.5 * r, 0.1 * r), 0.5 * r, 0.94 * r, 0.06 * r)
    parts.append(moved(plug, (at[0], -face - 0.6 * r, at[1])))
    screws = screw_heads("y", circle_of(6, 0.82 * r, at, 30), -face, -0.06 * r, 0.07 * r)
    return parts, screws


def link2(size: ArmSize) -> Solid:
    """Upper arm: a bowed lever from the shoulder to the elbow."""
    g, low, start, end = size.girth, size.side, size.shoulder, size.elbow
    inner, outer = low + 0.08 * g, low + 0.66 * g
    bow = (start[0] - 0.22 * g, start[1] + 0.5 * size.upper_arm)
    middle = rod("y", bow, inner + 0.04 * g, outer - 0.06 * g, 0.68 * g, edge=0.13 * g, sides=24)
    eyes = [
        rod("y", start, inner, outer + 0.06 * g, g, edge=0.14 * g, sides=28),
        rod("y", end, inner, outer - 0.02 * g, 0.8 * g, edge=0.12 * g, sides=24),
    ]
    lever = union(*(hull(eye, middle) for eye in eyes))
    pockets = [
        hull(
            rod("y", between(eye, bow, away * g), outer - 0.24 * g, outer + g, r * g, sides=18),
            rod("y", between(bow, eye, 0.5 * g), outer - 0.24 * g, outer + g, 0.4 * g, sides=18),
        )
        for eye, away, r in ((start, 1.45, 0.46), (end, 1.22, 0.36))
    ]
    discs = [
        rod("y", start, low, inner + 0.1 * g, 0.84 * g, sides=28),
        rod("y", end, low, inner + 0.1 * g, 0.68 * g, sides=24),
        rod("y", start, outer, outer + 0.16 * g, 0.72 * g, edge=0.06 * g, sides=24),
        rod("y", end, outer - 0.1 * g, outer + 0.09 * g, 0.58 * g, edge=0.06 * g, sides=24),
    ]
    screws = screw_heads("y", circle_of(6, 0.57 * g, start), outer + 0.16 * g, 0.05 * g, 0.08 * g)
    screws += screw_heads("y", circle_of(6, 0.43 * g, end), outer + 0.09 * g, 0.05 * g, 0.07 * g)
    return union(cut(lever, *pockets), *discs, *screws, *lever_hose(size, bow))


def between(first: Pair, second: Pair, distance: float) -> Pair:
    """Point at a distance from the first point on the way to the second."""
    share = distance / math.dist(first, second)
    return (first[0] + share * (second[0] - first[0]), first[1] + share * (second[1] - first[1]))


def lever_hose(size: ArmSize, bow: Pair) -> list[Solid]:
    """Cable hose strapped to the back of the upper arm."""
    g, (x, z) = size.girth, bow
    reach = 0.5 * size.upper_arm - 1.1 * g
    y, back = size.side + 0.37 * g, x - 0.8 * g
    path = [(x - 0.45 * g, y, z - reach), (back + 0.02 * g, y, z - reach + 0.42 * g)]
    path += [(back - 0.06 * g, y, z), (back + 0.09 * g, y, z + reach - 0.42 * g)]
    path += [(x - 0.35 * g, y, z + reach)]
    headings = [(-0.9, 0.0, 0.44), (-0.25, 0.0, 0.97), (0.0, 0.0, 1.0)]
    headings += [(0.3, 0.0, 0.95), (0.9, 0.0, 0.44)]
    hose = swept_obb(path, headings, [0.14 * g] * 5, 10)
    strap = soft_slab(rectangle(0.62 * g, 0.42 * g, 0.1 * g, 2), -0.12 * g, 0.12 * g, 0.03 * g)
    places = [(back + 0.16 * g, y, z + step * (reach - 0.5 * g)) for step in (-0.75, 0.75)]
    return [hose, *(moved(strap, place) for place in places)]


def link3(size: ArmSize) -> Solid:
    """Elbow block with its motor and the rear wrist motors, up to joint 4."""
    g, side, at, roll, nose = size.girth, size.side, size.elbow, size.roll, size.nose
    x = at[0]
    block = hull(
        rod("y", at, -side, side - 0.04 * g, 0.84 * g, edge=0.14 * g, sides=22),
        rod("x", roll, x - 0.7 * g, x + 0.95 * g, 0.78 * g, edge=0.12 * g, sides=20),
    )
    barrel = rod("x", roll, x, nose - 0.16 * g, 0.86 * g, edge=0.08 * g, sides=26)
    tip = rod("x", roll, nose - 0.3 * g, nose, 0.8 * g, edge=0.04 * g, sides=26)
    seat = rod("y", at, side - 0.2 * g, side, 0.68 * g, sides=22)
    rear = soft_slab(rectangle(1.66 * g, 1.6 * g, 0.42 * g, 3), -1.75 * g, -0.4 * g, 0.12 * g, "x")
    rear = moved(rear, (x, 0, roll[1] + 0.04 * g))
    cans = [(y * g, roll[1] + z * g) for y, z in ((-0.38, -0.34), (0.38, -0.34), (0, 0.4))]
    motors = [rod("x", can, x - 2.6 * g, x - g, 0.33 * g, edge=0.08 * g, sides=14) for can in cans]
    lid = cover(size, x - 0.35 * g, x + 0.95 * g, 0.94 * g)
    motor, screws = side_motor(size, at, 0.72)
    return union(block, barrel, tip, seat, rear, *lid, *motors, *motor, *screws)


def cover(size: ArmSize, first: float, last: float, height: float) -> list[Solid]:
    """Screwed cover on top of the forearm, between two places along x."""
    g, (_, z), middle = size.girth, size.roll, 0.5 * (first + last)
    slab = soft_slab(rectangle(last - first, 0.78 * g, 0.16 * g, 2), 0.3 * g, height, 0.04 * g)
    reach = 0.5 * (last - first) - 0.13 * g
    places = [(middle + reach * x, 0.26 * g * y) for x, y in CORNERS]
    screws = screw_heads("z", places, z + height, 0.04 * g, 0.055 * g)
    return [moved(slab, (middle, 0, z)), *screws]


def link4(size: ArmSize) -> Solid:
    """Forearm tube and wrist fork, up to joint 5; cranked down if the wrist has an offset."""
    g, f, roll, at, nose = size.girth, size.flange, size.roll, size.wrist, size.nose
    cranked, cheek, neck, thick = size.wrist_offset > 0, size.cheek, 0.44 * f, 0.72 * g
    end = at[0] - (1.02 if cranked else 1.1) * f
    rim = rod("x", roll, nose, nose + 0.22 * g, 0.83 * g, edge=0.04 * g, sides=28)
    profile = [(0, nose + 0.1 * g), (thick, nose + 0.1 * g), (thick, nose + 0.5 * g)]
    profile += [(neck, end - 0.5 * f), (neck, end - 0.2 * f), (0, end - 0.2 * f)]
    tube = lathe(profile, "x", roll, 28)
    fork = hull(
        rod("x", roll, end - 0.5 * f, end, neck, edge=0.12 * f, sides=28),
        rod("y", at, -cheek - 0.16 * f, cheek + 0.16 * f, 0.4 * f, edge=0.08 * f, sides=28),
    )
    # Room for the knuckle, and behind a crank for the flange, to fold back past a right angle.
    depth = (1.12 if cranked else 0.74) * f
    mouth = union(
        rod("y", at, -cheek, cheek, depth, sides=40),
        box((at[0], at[0] + f), (-cheek, cheek), (at[1] - 0.6 * f, at[1] + 0.6 * f)),
    )
    face = cheek + 0.19 * f
    cap = rod("y", at, cheek + 0.1 * f, face, 0.31 * f, edge=0.02 * f, sides=22)
    screws = screw_heads("y", circle_of(6, 0.23 * f, at), face, 0.025 * f, 0.032 * f)
    screws += [mirrored(screw, "y") for screw in screws]
    places = circle_of(8, 0.765 * g, roll, 22.5)
    screws += screw_heads("x", places, nose + 0.22 * g, 0.05 * g, 0.045 * g)
    lid = cover(size, nose + 0.55 * g, nose + 0.6 * (end - nose), thick)
    return union(rim, tube, cut(fork, mouth), *lid, cap, mirrored(cap, "y"), *screws)


def link5(size: ArmSize) -> Solid:
    """Wrist knuckle inside the fork."""
    f, at, cheek, spin = size.flange, size.wrist, size.cheek, (0, size.wrist[1])
    wide = cheek - 0.03 * f
    knuckle = hull(
        rod("y", at, -wide, wide, 0.39 * f, edge=0.07 * f, sides=28),
        rod("x", spin, at[0] + 0.38 * f, at[0] + 0.62 * f, 0.35 * f, edge=0.02 * f, sides=28),
    )
    bearing = rod("y", at, -cheek, cheek, 0.27 * f, sides=24)
    profile = [(0, 0.48), (0.34, 0.48), (0.37, 0.51), (0.37, 0.59), (0.355, 0.61), (0.33, 0.61)]
    profile += [(0.33, 0.7), (0, 0.7)]
    collar = lathe([(r * f, at[0] + x * f) for r, x in profile], "x", spin, 28)
    return union(knuckle, bearing, collar)


def link6(size: ArmSize) -> Solid:
    """Tool flange."""
    f, (start, height) = size.flange, size.wrist
    spin, front = (0, height), start + f
    profile = [(0, 0.7), (0.31, 0.7), (0.31, 0.76), (0.38, 0.77), (0.4, 0.79), (0.4, 0.985)]
    profile += [(0.385, 1.0), (0, 1.0)]
    disc = lathe([(r * f, start + x * f) for r, x in profile], "x", spin, 32)
    pilot = rod("x", spin, front - 0.06 * f, front + 0.1 * f, 0.15 * f, sides=22)
    places = circle_of(6, 0.285 * f, spin, 30)
    holes = [rod("x", at, front - 0.14 * f, front + 0.1 * f, 0.035 * f, sides=12) for at in places]
    return cut(disc, pilot, *holes)


LINKS = (base, link1, link2, link3, link4, link5, link6)

# ruff: noqa: E501 - lines of the files that are written
"""Arms and torches of invented dimensions that a new cell may start with."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ReadyArm:
    """An arm by its drawing: what it is in words, lengths and radii in mm."""

    words: str
    dimensions: dict[str, int]
    within: dict[str, int]
    limits: tuple[tuple[int, int], ...]
    speeds: tuple[int, ...]
    accelerations: tuple[int, ...]


_LIMITS = ((-170, 170), (-80, 110), (-75, 85), (-190, 190), (-125, 125), (-360, 360))

ARMS: dict[str, ReadyArm] = {
    "small": ReadyArm(
        "six joints, 0.9 m from axis 1 to the wrist",
        {
            "shoulder height": 340, "shoulder offset": 60, "upper arm": 400, "elbow offset": 40,
            "forearm": 430, "flange": 80,
        },
        {"base": 130, "upper arm": 75, "forearm": 65, "wrist": 45},
        _LIMITS,
        (250, 230, 260, 420, 400, 650),
        (700, 650, 700, 1400, 1300, 1900),
    ),
    "middle": ReadyArm(
        "six joints, 1.4 m from axis 1 to the wrist",
        {
            "shoulder height": 430, "shoulder offset": 160, "upper arm": 590, "elbow offset": 130,
            "forearm": 640, "flange": 100,
        },
        {"base": 190, "upper arm": 105, "forearm": 90, "wrist": 55},
        _LIMITS,
        (190, 180, 190, 400, 360, 600),
        (450, 400, 450, 1200, 1000, 1600),
    ),
    "long": ReadyArm(
        "six joints, 2.0 m from axis 1 to the wrist",
        {
            "shoulder height": 520, "shoulder offset": 180, "upper arm": 870, "elbow offset": 150,
            "forearm": 960, "flange": 110,
        },
        {"base": 210, "upper arm": 115, "forearm": 95, "wrist": 60},
        _LIMITS,
        (170, 160, 170, 380, 340, 560),
        (400, 350, 400, 1100, 900, 1500),
    ),
}  # fmt: skip

#: Angle of the neck in deg, and the torch in words.
TORCHES: dict[str, tuple[int, str]] = {
    "straight": (0, "a straight neck"),
    "22 deg": (22, "a neck bent by 22 deg"),
    "45 deg": (45, "a neck bent by 45 deg"),
}


def arm_text(ready: ReadyArm, *, is_own: bool) -> str:
    """Return the description of a ready-made arm, or of one whose numbers are still to come."""
    if is_own:
        said = (
            "# Your arm. Every number here is an example: put in those of the drawing and of the\n"
            "# data sheet, then compare with the display: pathsim arm CELL --readings FILE\n"
        )
    else:
        said = f"# An arm of invented dimensions: {ready.words}.\n"
    lines = [
        f"{said}format: 1",
        f"name: {'My arm' if is_own else 'Ready-made arm'}",
        "dimensions:   # the lengths of the drawing; at zero the upper arm is upright, the forearm level",
        *(f"  {key}: {value} mm" for key, value in ready.dimensions.items()),
        "joints:",
    ]
    rows = zip(ready.limits, ready.speeds, ready.accelerations, strict=True)
    for (low, high), speed, acceleration in rows:
        lines.append(
            f"  - {{limits: {low} {high} deg, speed: {speed} deg/s, "
            f"acceleration: {acceleration} deg/s2}}"
        )
    radii = ", ".join(f"{key}: {value} mm" for key, value in ready.within.items())
    lines += [
        "tip: {speed: 1500 mm/s, acceleration: 3000 mm/s2}",
        "links:   # the castings lie within these radii of the arm's own lines",
        f"  within: {{{radii}}}",
    ]
    if is_own:
        lines.append(READINGS)
    return "\n".join(lines) + "\n"


#: What a person may need whose display counts otherwise than the drawing, to be put in by hand.
READINGS = """# Where the display counts otherwise (pathsim arm --readings FILE --write puts it in for you):
# readings:
#   limits: as displayed   # the joints' limits above are those of the display
#   joints:
#     - {joint: 2, zero: -90 deg}   # shows 90 where the drawing has 0
#     - {joint: 3, coupled to: 2, coupling: -1}   # shows its angle to the horizon
#     - {joint: 5, sign: -1}"""
#: Rows of Denavit and Hartenberg for a drawing that gives them.
ROWS_TEXT = """# Your arm by Denavit-Hartenberg rows. Every number here is an example.
format: 1
name: My arm
convention: standard   # or modified
joints:
  - {a: 160 mm, alpha: -90 deg, d: 430 mm, limits: -170 170 deg, speed: 190 deg/s, acceleration: 450 deg/s2}
  - {a: 590 mm, alpha: 0 deg, d: 0 mm, theta0: -90 deg, limits: -80 110 deg, speed: 180 deg/s, acceleration: 400 deg/s2}
  - {a: 130 mm, alpha: -90 deg, d: 0 mm, limits: -75 85 deg, speed: 190 deg/s, acceleration: 450 deg/s2}
  - {a: 0 mm, alpha: 90 deg, d: 640 mm, limits: -190 190 deg, speed: 400 deg/s, acceleration: 1200 deg/s2}
  - {a: 0 mm, alpha: -90 deg, d: 0 mm, limits: -125 125 deg, speed: 360 deg/s, acceleration: 1000 deg/s2}
  - {a: 0 mm, alpha: 0 deg, d: 100 mm, limits: -360 360 deg, speed: 600 deg/s, acceleration: 1600 deg/s2}
tip: {speed: 1500 mm/s, acceleration: 3000 mm/s2}
links:   # a mesh, capsule or box for each link; these are drawn with every joint at zero
  drawn in: base frame at zero
  shapes:
    - {link: 0, capsule: {from: 0 0 120 mm, to: 0 0 150 mm, radius: 120 mm}}
    - {link: 1, capsule: {from: 0 0 430 mm, to: 160 0 430 mm, radius: 120 mm}}
    - {link: 2, capsule: {from: 160 0 430 mm, to: 160 0 1020 mm, radius: 90 mm}}
    - {link: 3, capsule: {from: 160 0 1020 mm, to: 300 0 1150 mm, radius: 85 mm}}
    - {link: 4, capsule: {from: 480 0 1150 mm, to: 700 0 1150 mm, radius: 70 mm}}
    - {link: 5, capsule: {from: 800 0 1150 mm, to: 800 0 1150 mm, radius: 50 mm}}
    - {link: 6, capsule: {from: 880 0 1150 mm, to: 898 0 1150 mm, radius: 45 mm}}
"""


def torch_text(angle: int) -> str:
    """Return the description of a torch whose neck is bent by ``angle`` deg."""
    bend = f"angle: {angle} deg, radius: 80 mm, before: 30 mm, after: 50 mm"
    return f"""# A torch by tape measure, from the flange outwards. Put in the numbers of your own.
format: 1
name: Torch, {"straight neck" if angle == 0 else f"{angle} deg neck"}
wire diameter: 1.0 mm
built:
  mount:  {{length: 50 mm, diameter: 90 mm}}    # between flange and torch
  body:   {{length: 160 mm, diameter: 60 mm}}
  neck:   {{diameter: 24 mm, {bend}}}   # bends towards the flange's x
  nozzle: {{length: 70 mm, diameter: 26 mm, mouth: 19 mm, tip: 2 mm}}   # tip: how far the contact tip stands back
  towards: 0 deg   # turn of the whole torch about the flange's z
"""

"""The arm's description: signs, zeros, couplings, conventions, lengths, limits, and its shapes."""

from pathlib import Path

from pathsim.findings import Level
from tests.mistakes.case import Change, Harmless, Mistake, all_of, swap

DRAWN = """\
dimensions:
  shoulder height: 430 mm
  shoulder offset: 160 mm
  upper arm: 590 mm
  elbow offset: 130 mm
  forearm: 640 mm
  flange: 100 mm
joints:
  - {limits: -170 170 deg, speed: 190 deg/s, acceleration: 450 deg/s2}
  - {limits: -80 110 deg, speed: 180 deg/s, acceleration: 400 deg/s2}
  - {limits: -75 85 deg, speed: 190 deg/s, acceleration: 450 deg/s2}
  - {limits: -190 190 deg, speed: 400 deg/s, acceleration: 1200 deg/s2}
  - {limits: -125 125 deg, speed: 360 deg/s, acceleration: 1000 deg/s2}
  - {limits: -360 360 deg, speed: 600 deg/s, acceleration: 1600 deg/s2}
"""
WITHIN = "{base: 170 mm, upper arm: 95 mm, forearm: 80 mm, wrist: 60 mm}"


def within(file: str, radii: str = WITHIN) -> Change:
    """Give the arm solids of these radii in place of its castings."""

    def change(folder: Path) -> None:
        path = folder / file
        text = path.read_text(encoding="utf-8")
        start = text.index("links:")
        path.write_text(text[:start] + f"links: {{within: {radii}}}\n", encoding="utf-8")

    return change


def drawn(old: str = "", new: str = "") -> Change:
    """Describe the shop arm by its dimension drawing; ``old`` to ``new`` in the drawing."""

    def change(folder: Path) -> None:
        path = folder.parent / "shop_arm" / "arm.yaml"
        text = path.read_text(encoding="utf-8")
        rows = text[text.index("convention:") : text.index("tip:")]
        assert DRAWN.count(old) >= 1, old
        path.write_text(text.replace(rows, DRAWN.replace(old, new)), encoding="utf-8")

    return change


MISTAKES = [
    Mistake(
        "a radius of solids that the torch does not fit beside",
        "hanging_rail",
        within("arm.yaml", WITHIN.replace("forearm: 80 mm", "forearm: 140 mm")),
        Level.WATCH,
        ("torch body", "60.0 mm inside the forearm's radius of 140.0 mm", "link 4"),
    ),
]
HARMLESS = [
    Harmless("solids in place of castings", "hanging_rail", within("arm.yaml")),
    Harmless(
        "solids in place of castings, standing upright",
        "gate_hinge",
        all_of(drawn(), within("../shop_arm/arm.yaml")),
    ),
    Harmless(
        "the same arm by its drawing",
        "gate_hinge",
        drawn(),
    ),
]
_ = swap

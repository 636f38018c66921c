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


SHOP, OFFSET = "../shop_arm/arm.yaml", "../offset_wrist_arm/arm.yaml"
TURNED = "  joints: [{joint: 6, zero: 180 deg}]\n"


def shop(old: str, new: str) -> Change:
    """Change the shop arm's description."""
    return swap(old, new, SHOP)


def counts(readings: str) -> Change:
    """Say how the shop arm's display counts."""
    return shop("links:", f"readings:\n{readings}links:")


def display(old: str, new: str) -> Change:
    """Change how the display of the offset-wrist arm counts."""
    return swap(old, new, OFFSET)


def is_off(name: str, cell: str, change: Change, *words: str, both: bool = False) -> Mistake:
    """Something that puts the wire far from every part while the arc is on."""
    return Mistake(
        name, cell, change, Level.STOP, ("wire's end", "nearest part", *words), both_engines=both
    )


MODIFIED = {
    "a: 160 mm, alpha: -90 deg, d: 430 mm": "a: 0 mm, alpha: 0 deg, d: 430 mm",
    "a: 590 mm, alpha: 0 deg, d: 0 mm": "a: 160 mm, alpha: -90 deg, d: 0 mm",
    "a: 130 mm, alpha: -90 deg, d: 0 mm": "a: 590 mm, alpha: 0 deg, d: 0 mm",
    "a: 0 mm, alpha: 90 deg, d: 640 mm": "a: 130 mm, alpha: -90 deg, d: 640 mm",
    "a: 0 mm, alpha: -90 deg, d: 0 mm": "a: 0 mm, alpha: 90 deg, d: 0 mm",
    "a: 0 mm, alpha: 0 deg, d: 100 mm": "a: 0 mm, alpha: -90 deg, d: 100 mm",
}


def modified_rows(folder: Path) -> None:
    """Write the shop arm's rows in the other convention, as the textbooks do."""
    path = folder / SHOP
    text = path.read_text(encoding="utf-8").replace("convention: standard", "convention: modified")
    lines = []
    for line in text.splitlines():
        row = next((old for old in MODIFIED if old in line), "")
        lines.append(line.replace(row, MODIFIED[row]) if row else line)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


MISTAKES = [
    is_off(
        "joint 1 counts the other way",
        "collar_seam",
        counts("  joints: [{joint: 1, sign: -1}]\n"),
        "joint signs",
        both=True,
    ),
    Mistake(
        "joint 1 counts the other way about a part that is alike on both sides",
        "gate_hinge",
        counts("  joints: [{joint: 1, sign: -1}]\n"),
        Level.STOP,
        ("neck touches the left clamp",),
    ),
    is_off(
        "the zero of joint 2 is a quarter turn off", "gate_hinge", shop("theta0: -90 deg, ", "")
    ),
    Mistake(
        "the zero of joint 2 moves and the shapes stay drawn at the old one",
        "gate_hinge",
        all_of(
            shop("theta0: -90 deg, ", ""),
            shop("limits: -80 110", "limits: -170 20"),
            counts("  joints: [{joint: 2, zero: -90 deg}]\n"),
        ),
        Level.STOP,
        ("link 2 touches the arm base",),
    ),
    is_off(
        "a and d of the forearm's row change places",
        "gate_hinge",
        shop("a: 0 mm, alpha: 90 deg, d: 640 mm", "a: 640 mm, alpha: 90 deg, d: 0 mm"),
    ),
    Mistake(
        "standard rows are called modified",
        "gate_hinge",
        shop("standard  ", "modified  "),
        None,
        ("joints 5 and 6 turn about one line", "'modified'", "the other convention"),
    ),
    is_off(
        "the elbow offset has the wrong sign",
        "gate_hinge",
        shop("a: 130 mm", "a: -130 mm"),
    ),
    is_off(
        "the shoulder's height is counted from the floor of the shop",
        "gate_hinge",
        shop("d: 430 mm", "d: 930 mm"),
    ),
    is_off("the flange's x is up on the drawing of its maker", "gate_hinge", drawn()),
    is_off(
        "joint 5 counts as the model does, says the description",
        "offset_wrist",
        display("{joint: 5, sign: -1}", "{joint: 5, sign: 1}"),
    ),
    is_off(
        "the coupling of joint 3 is left out",
        "offset_wrist",
        display(", coupled to: 2, coupling: 1", ""),
    ),
    Mistake(
        "limits of the model are called limits of the display",
        "offset_wrist",
        display("limits: of the model", "limits: as displayed"),
        Level.STOP,
        ("joint 2", "148.5 deg on the display", "past its limit"),
    ),
    Mistake(
        "limits of the display are called limits of the model",
        "offset_wrist",
        display("{limits: -80 105 deg", "{limits: -15 170 deg"),
        Level.STOP,
        ("joint 2", "148.5 deg on the display", "past its limit of -15.0 deg"),
    ),
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
        "solids whose radius the flange's face only just touches",
        "hanging_rail",
        within("arm.yaml", WITHIN.replace("forearm: 80 mm", "forearm: 81.5 mm")),
    ),
    Harmless(
        "solids in place of castings, standing upright",
        "gate_hinge",
        all_of(drawn(), counts(TURNED), within(SHOP)),
    ),
    Harmless(
        "solids in place of castings beside a turning table",
        "turned_collar",
        all_of(drawn(), counts(TURNED), within(SHOP)),
    ),
    Harmless("the same arm by its drawing", "gate_hinge", all_of(drawn(), counts(TURNED))),
    Harmless("the same arm in modified rows", "gate_hinge", modified_rows),
    Harmless(
        "limits as the display counts them",
        "offset_wrist",
        all_of(
            display("limits: of the model", "limits: as displayed"),
            display("{limits: -80 105 deg", "{limits: -15 170 deg"),
            display("{limits: -75 70 deg", "{limits: -110 90 deg"),
        ),
    ),
    Harmless(
        "limits as a display counts them that counts as the model",
        "gate_hinge",
        counts("  limits: as displayed\n"),
    ),
    Harmless(
        "limits that leave a few degrees",
        "gate_hinge",
        shop("limits: -75 85 deg", "limits: -75 40 deg"),
    ),
    Harmless(
        "the display counts all of it as the model does, and says so",
        "gate_hinge",
        counts("  joints: [{joint: 1, sign: 1, zero: 0 deg}, {joint: 4, zero: 0 deg}]\n"),
    ),
    Harmless(
        "a base of solids that is as wide as the pedestal",
        "hanging_rail",
        within("arm.yaml", WITHIN.replace("base: 170 mm", "base: 210 mm")),
    ),
    Harmless("the drawing again, on a collar", "collar_seam", all_of(drawn(), counts(TURNED))),
    Harmless("modified rows beside a turning table", "turned_collar", modified_rows),
    Harmless(
        "a wrist of solids as wide as the forearm",
        "hanging_rail",
        within("arm.yaml", WITHIN.replace("wrist: 60 mm", "wrist: 80 mm")),
    ),
]

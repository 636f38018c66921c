"""How bodies stand, and what a joint, a rail, a table or a flange holds together."""

from pathlib import Path

import trimesh

from pathsim.findings import Level
from tests.mistakes.case import Change, Harmless, Mistake, all_of, swap

LAST_OF_HINGE = "at: 930 0 780 mm}\n"
RIGHT_CLAMP = "mesh: ../shop/toggle_clamp.stl,  unit: mm, at: 840 -115 720 mm"
LEFT_CLAMP = "mesh: ../shop/toggle_clamp.stl,  unit: mm, at: 840 115 720 mm"
HINGE_HOME = "home,60.000,-20.000,25.000,0.000,90.000,0.000"


def more(last: str, *lines: str) -> Change:
    """Put more bodies behind the last one."""
    return swap(last, last + "".join(f"  - {line}\n" for line in lines))


def clamp(place: str) -> Change:
    """Move the left clamp of the gate hinge."""
    return swap(LEFT_CLAMP, LEFT_CLAMP.replace("840 115 720", place))


def home(row: str) -> Change:
    """Teach the home point of the gate hinge otherwise."""
    return swap(HINGE_HOME, f"home,{row}", "points.csv")


def pin(last: str, radius: float, length: float, place: str) -> Change:
    """Stand a round pin upright, of so many mm, its middle at a place."""

    def change(folder: Path) -> None:
        trimesh.creation.cylinder(radius, length, sections=24).export(folder / "pin.stl")
        line = f"{{name: pin, role: fixture, mesh: pin.stl, unit: mm, at: {place}}}"
        more(last, line)(folder)

    return change


def slab(last: str, size: tuple[float, float, float], rest: str) -> Change:
    """Add a box of so many mm; ``rest``: the rest of its line."""

    def change(folder: Path) -> None:
        trimesh.creation.box(size).export(folder / "slab.stl")
        more(last, f"{{name: slab, mesh: slab.stl, unit: mm, {rest}}}")(folder)

    return change


def bracket(length: float) -> Change:
    """Weld a bracket of so many mm under the turning plate, beside the column of its stand."""

    def change(folder: Path) -> None:
        file = folder / "turning_plate.stl"
        bar = trimesh.creation.box((40, 40, length))
        bar.apply_translation((0, 180, -29 - length / 2))
        trimesh.util.concatenate([trimesh.load(file), bar]).export(file)

    return change


def nothing_turns(folder: Path) -> None:
    path = folder / "cell.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace(", on: turning table", ""))


def hose(points: str) -> Change:
    """Strap a hose to the forearm's first casting (link 3); places as drawn at zero."""
    said = (
        "cables:\n  - {name: hose, on: link 3, drawn in: base frame at zero, "
        f"points: [{points}], radius: 12 mm, slack: 0 mm}}\n\npoints: {{file: points.csv}}"
    )
    return swap("points: {file: points.csv}", said)


def still_table(which: tuple[str, ...]) -> Change:
    """Put the gate hinge on a turning table that no move turns; ``which`` bodies are on it."""

    def change(folder: Path) -> None:
        torch = "torch: {description: ../shop_arm/torch.yaml, wire: 18 mm}\n"
        table = (
            "turning table: {at: 930 0 700 mm, limits: -90 90 deg, speed: 60 deg/s, "
            "acceleration: 90 deg/s2}\n"
        )
        swap(torch, torch + table)(folder)
        path = folder / "cell.yaml"
        lines = path.read_text(encoding="utf-8").split("\n")
        for k, line in enumerate(lines):
            if any(f"name: {name}," in line for name in which):
                lines[k] = line.replace("}", ", on: turning table}")
        path.write_text("\n".join(lines), encoding="utf-8")
        path = folder / "points.csv"
        head, *rows = path.read_text(encoding="utf-8").strip().split("\n")
        rows = [f"{row},0.000" for row in rows]
        path.write_text("\n".join([f"{head},table deg", *rows, ""]), encoding="utf-8")

    return change


def rail_home(rail: int) -> Change:
    """Drive the rail so far (mm) for the home point, past its limits if need be."""
    return all_of(
        swap("limits: -1000 1000 mm", "limits: -1200 1200 mm", "arm.yaml"),
        swap("home,500.000,450.000,-500.000", f"home,{rail}.000,450.000,-{rail}.000", "points.csv"),
    )


TURNED = ("fixture plate", "left clamp", "right clamp", "gate post", "hinge plate")

MISTAKES = [
    Mistake(
        "a clamp is 15 mm too low",
        "gate_hinge",
        clamp("840 115 705"),
        Level.WATCH,
        ("left clamp", "fixture plate", "15.0 mm deep"),
    ),
    Mistake(
        "the table is 40 mm too high",
        "gate_hinge",
        swap("at: 1050 0 700 mm", "at: 1050 0 740 mm"),
        Level.WATCH,
        ("table", "left clamp", "20.0 mm deep"),
    ),
    Mistake(
        "the pedestal reaches 30 mm into the arm's base",
        "gate_hinge",
        swap("at: 0 0 500 mm}", "at: 0 0 530 mm}"),
        Level.WATCH,
        ("pedestal", "arm base", "deep"),
    ),
    Mistake(
        "a clamp was copied and not moved",
        "gate_hinge",
        swap(RIGHT_CLAMP, RIGHT_CLAMP.replace("-115", "115")),
        Level.WATCH,
        ("left clamp", "right clamp", "at one place"),
    ),
    Mistake(
        "a clamp was copied and moved by 5 mm only",
        "gate_hinge",
        swap(RIGHT_CLAMP, RIGHT_CLAMP.replace("-115", "120")),
        Level.WATCH,
        ("left clamp", "right clamp", "at one place"),
    ),
    Mistake(
        "the trestles are 20 mm too low",
        "hanging_rail",
        all_of(
            swap("at: 500 -350 880 mm", "at: 500 -350 860 mm"),
            swap("at: 500 350 880 mm", "at: 500 350 860 mm"),
        ),
        Level.WATCH,
        ("nothing carries the girder", "trestle", "20.0 mm"),
    ),
    Mistake(
        "the trestles are 6 mm too low",
        "hanging_rail",
        all_of(
            swap("at: 500 -350 880 mm", "at: 500 -350 874 mm"),
            swap("at: 500 350 880 mm", "at: 500 350 874 mm"),
        ),
        Level.WATCH,
        ("nothing carries the girder", "6.0 mm"),
    ),
    Mistake(
        "a clamp hangs in the air",
        "gate_hinge",
        clamp("840 175 740"),
        Level.WATCH,
        ("nothing carries the left clamp",),
    ),
    Mistake(
        "nothing was put on the turning table",
        "turned_collar",
        nothing_turns,
        Level.WATCH,
        ("turning table carries nothing", "on: turning table"),
    ),
    Mistake(
        "the fixture plate under a part on a table that does not turn stands still",
        "gate_hinge",
        still_table(TURNED[1:]),
        Level.WATCH,
        ("fixture plate stands still", "gate post", "table at zero"),
        both_engines=True,
    ),
    Mistake(
        "the turning plate is 15 mm too low in its stand",
        "turned_collar",
        swap(
            "at: 950 0 720 mm, on: turning table}\n  - {name: left stop",
            "at: 950 0 705 mm, on: turning table}\n  - {name: left stop",
        ),
        Level.WATCH,
        ("turning plate", "table stand", "deep"),
    ),
    Mistake(
        "a bracket under the turning plate meets the motor of its own stand",
        "turned_collar",
        bracket(300),
        Level.STOP,
        ("turning plate", "touches the table stand"),
    ),
    Mistake(
        "the upper arm is folded back into the shoulder's casting",
        "gate_hinge",
        home("60.000,-80.000,25.000,0.000,90.000,0.000"),
        Level.STOP,
        ("link 2", "touches", "link 1"),
    ),
    Mistake(
        "the forearm is folded to its limit",
        "gate_hinge",
        home("60.000,-45.000,85.000,0.000,-30.000,0.000"),
        Level.WATCH,
        ("link 3", "link 2", "margin 2 mm"),
    ),
    Mistake(
        "the wrist is folded to its limit",
        "gate_hinge",
        home("60.000,-20.000,25.000,0.000,125.000,0.000"),
        Level.STOP,
        ("link 5", "touches", "link 4"),
        both_engines=True,
    ),
    Mistake(
        "a hose on the forearm lies in the upper arm",
        "gate_hinge",
        hose("400 0 1150 mm, 300 0 1100 mm, 160 0 760 mm"),
        Level.STOP,
        ("hose", "touches", "link 2"),
        both_engines=True,
    ),
    Mistake(
        "the slide drives through the end stop of its bed",
        "hanging_rail",
        rail_home(1100),
        Level.STOP,
        ("rail slide", "touches", "rail bed"),
        both_engines=True,
    ),
]
HARMLESS = [
    Harmless("a clamp bites 4 mm into the plate", "gate_hinge", clamp("840 115 716")),
    Harmless("a clamp is drawn 8 mm into the plate", "gate_hinge", clamp("840 115 712")),
    Harmless(
        "the arm's base is let 4 mm into the pedestal",
        "gate_hinge",
        swap("at: 0 0 500 mm}", "at: 0 0 504 mm}"),
    ),
    Harmless(
        "a third clamp beside the left one",
        "gate_hinge",
        more(
            LAST_OF_HINGE,
            "{name: spare clamp, role: clamp, mesh: ../shop/toggle_clamp.stl, unit: mm, "
            "at: 740 -115 720 mm, turned: 0 0 180 deg}",
        ),
    ),
    Harmless(
        "a bolt of 24 mm through the plate into the table, its hole not drawn",
        "gate_hinge",
        pin(LAST_OF_HINGE, 12, 80, "1110 -140 690 mm"),
    ),
    Harmless(
        "a pin of 20 mm stands 60 mm in the table",
        "collar_seam",
        pin("at: 860 0 732 mm}\n", 10, 120, "1500 300 700 mm"),
    ),
    Harmless(
        "a lamp hangs over the cell",
        "gate_hinge",
        slab(LAST_OF_HINGE, (200, 600, 60), "role: other, at: 700 0 2900 mm"),
    ),
    Harmless(
        "a wall stands behind the table",
        "gate_hinge",
        slab(LAST_OF_HINGE, (50, 2000, 2000), "role: other, at: 2100 0 1000 mm"),
    ),
    Harmless(
        "shims of 4 mm under the girder are not drawn",
        "hanging_rail",
        all_of(
            swap("at: 500 -350 880 mm", "at: 500 -350 876 mm"),
            swap("at: 500 350 880 mm", "at: 500 350 876 mm"),
        ),
    ),
    Harmless(
        "one trestle alone carries the girder",
        "hanging_rail",
        swap("at: 500 -350 880 mm", "at: 500 -350 860 mm"),
    ),
    Harmless(
        "all that stands on the turning table is on it, and it does not turn",
        "gate_hinge",
        all_of(
            still_table(TURNED),
            swap(
                "role: table,   mesh: ../shop/table.stl,         unit: mm, at: 1050 0 700 mm",
                "role: table,   mesh: ../shop/table.stl,         unit: mm, at: 1050 0 697 mm",
            ),
        ),
    ),
    Harmless(
        "the turning plate is drawn 2 mm above its stand",
        "turned_collar",
        swap(
            "turning_stand.stl,      unit: mm, at: 950 0 720 mm",
            "turning_stand.stl,      unit: mm, at: 950 0 718 mm",
        ),
    ),
    Harmless(
        "a bracket under the turning plate clears the motor of the stand",
        "turned_collar",
        bracket(160),
    ),
    Harmless(
        "the upper arm leans back as far as its castings let it",
        "gate_hinge",
        home("60.000,-70.000,25.000,0.000,90.000,0.000"),
    ),
    Harmless(
        "the forearm is folded nearly to its limit",
        "gate_hinge",
        home("60.000,-45.000,80.000,0.000,-30.000,0.000"),
    ),
    Harmless(
        "a hose on the forearm passes the elbow on the outside",
        "gate_hinge",
        hose("420 0 1260 mm, 200 0 1290 mm, 120 0 1290 mm"),
    ),
    Harmless("the slide stops short of the end stop", "hanging_rail", rail_home(1000)),
]

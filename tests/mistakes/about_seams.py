"""Seams that lie on nothing or in something, and the wire where it must not be."""

import csv
import io

import trimesh

from pathsim.findings import Level
from tests.mistakes.case import Harmless, Mistake, all_of, swap

POST = "mesh: ../gate_hinge/gate_post.stl,   unit: mm, at: 930 0 720 mm"
HINGE = "mesh: ../gate_hinge/hinge_plate.obj, unit: mm, at: 930 0 780 mm"
ARM = "at: 0 0 500 mm, turned: 0 0 0 deg"
SEAM = "{seam: weld end, speed: 5 mm/s, weave: hinge fillet, crater: 0.6 s}"
TOOL = "at: 107.68 0 344.96 mm"
TORCH = "../shop_arm/torch.yaml"
TURNED = "collar_base.stl, unit: mm, at:"


def parts_at(post, hinge, x="930 0", unit="mm"):
    """Both parts of the gate hinge at other heights, or elsewhere."""
    return all_of(
        swap(POST, f"mesh: ../gate_hinge/gate_post.stl, unit: {unit}, at: {x} {post} mm"),
        swap(HINGE, f"mesh: ../gate_hinge/hinge_plate.obj, unit: {unit}, at: {x} {hinge} mm"),
    )


def base_at(at, turned="0 0 0"):
    return swap(ARM, f"at: {at} mm, turned: {turned} deg")


def of_seam(words):
    return swap(SEAM, SEAM[:-1] + f", {words}}}")


def column(name, change):
    """Change all values of one column of the points file."""

    def rewrite(folder):
        path = folder / "points.csv"
        rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
        for row in rows:
            row[name] = str(change(float(row[name])))
        out = io.StringIO()
        writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        path.write_text(out.getvalue(), encoding="utf-8")

    return rewrite


def block(name, size, at, role="part"):
    """One body more: a block of ``size`` mm whose middle is at ``at`` mm."""

    def add(folder):
        trimesh.creation.box(size).export(folder / "block.stl")
        path = folder / "cell.yaml"
        text = path.read_text(encoding="utf-8")
        place = " ".join(f"{value:g}" for value in at)
        line = f"  - {{name: {name}, role: {role}, mesh: block.stl, unit: mm, at: {place} mm}}\n"
        assert text.count("\npoints:") == 1
        path.write_text(text.replace("\npoints:", f"{line}\npoints:"), encoding="utf-8")

    return add


def inches(folder):
    """Both plates were drawn in inches, and are read in the unit that the cell names."""
    for name in ("gate_post.stl", "hinge_plate.obj"):
        mesh = trimesh.load_mesh(folder / name)
        mesh.apply_scale(1 / 25.4)
        mesh.export(folder / name)


TWO_SEAMS = swap(SEAM, SEAM + "\n  - {seam: weld start, speed: 5 mm/s}")
OFF, IN = ("wire's end", "from the nearest part"), ("wire's end", "inside the")

MISTAKES = [
    Mistake("the arm's base turned by 90 deg", "gate_hinge", base_at("0 0 500", "0 0 90"),
            Level.STOP, OFF, both_engines=True),
    Mistake("the base of two seams turned by 90 deg", "gate_hinge",
            all_of(TWO_SEAMS, base_at("0 0 500", "0 0 90")),
            Level.STOP, ("none of the 2 seams lies where a joint is", "base", "move 3", "move 4")),
    Mistake("plates drawn in inches are called mm", "gate_hinge", inches, Level.STOP, OFF),
    Mistake("plates drawn in mm are called inches", "gate_hinge", parts_at(720, 780, unit="in"),
            Level.STOP, IN),
    Mistake("joint 1 counts the wrong way", "gate_hinge", column("j1 deg", lambda j: 40 - j),
            Level.STOP, OFF),
    Mistake("joint 2 counts the wrong way", "collar_seam", column("j2 deg", lambda j: -j),
            Level.STOP, OFF),
    Mistake("the base stands 50 mm too high", "gate_hinge", base_at("0 0 550"), Level.WATCH,
            ("plain face", "8.1 mm beside", "hinge plate", "surfacing"), both_engines=True),
    Mistake("the base stands 50 mm too low", "gate_hinge", base_at("0 0 450"),
            Level.WATCH, ("wire's end is up to 6.0 mm from the nearest part",)),
    Mistake("points of another place of the fixture", "gate_hinge", parts_at(720, 780, "930 700"),
            Level.STOP, OFF),
    Mistake("both parts 8 mm too low", "gate_hinge", parts_at(712, 772), Level.WATCH,
            ("up to 8.0 mm beside the nearest edge", "3.0 mm is allowed"), both_engines=True),
    Mistake("both parts 6 mm too high", "gate_hinge", parts_at(726, 786), Level.STOP,
            ("gate post", "touches", "wire"), both_engines=True),
    Mistake("both parts 12 mm too high", "gate_hinge", parts_at(732, 792), Level.STOP,
            ("the wire passes through the gate post on the way to its end",)),
    Mistake("stick-out 18 mm given as 12 mm, tool centre point and all", "gate_hinge",
            all_of(swap("wire: 18 mm", "wire: 12 mm"),
                   swap(TOOL, "at: 103.44 0 340.72 mm", TORCH)),
            Level.WATCH, ("4.2 mm from the nearest part", "stick-out")),
    Mistake("tool centre point 20 mm aside", "gate_hinge",
            swap(TOOL, "at: 121.82 0 330.82 mm", TORCH), Level.STOP,
            ("wire lies inside the hinge plate",)),
    Mistake("nothing is called a part", "hanging_rail",
            swap("role: part,  mesh: girder", "role: other,  mesh: girder"),
            Level.WATCH, ("no body", "role 'part'", "wire may touch nothing")),
    Mistake("the height of a part is left out", "collar_seam",
            all_of(swap("collar_base.stl,           unit: mm, at: 860 0 720",
                        "collar_base.stl,           unit: mm, at: 860 0 0"),
                   swap("at: 860 0 732 mm", "at: 860 0 12 mm")),
            Level.STOP, OFF),
    Mistake("the part on the turning table is 30 mm aside", "turned_collar",
            all_of(swap(f"{TURNED} 950 0 720", f"{TURNED} 980 0 720"),
                   swap("at: 950 0 732 mm", "at: 980 0 732 mm")),
            Level.STOP, ("the wire passes through the collar pipe on the way to its end",)),
    Mistake("the seam runs through a rib", "gate_hinge",
            block("rib", (30, 4, 60), (922, 0, 805)), Level.STOP,
            ("wire touches the rib", "only the wire's last 7.0 mm"), both_engines=True),
    Mistake("a bar of a part across the wire, above its end", "gate_hinge",
            block("bar", (4, 60, 4), (921, 0, 789.5)), Level.STOP,
            ("wire touches the bar", "only the wire's last 7.0 mm"), both_engines=True),
    Mistake("the way down to the weld goes through a rib", "gate_hinge",
            block("rib", (6, 30, 3), (917, -60, 811)), Level.STOP,
            ("wire touches the rib", "move 2"), both_engines=True),
    Mistake("the way up from the weld drags through a lug", "gate_hinge",
            block("lug", (5, 20, 3), (925, 60, 791.5)), Level.STOP, ("wire touches the lug",)),
    Mistake("a part stands 20 mm off its seam", "gate_hinge",
            swap("gate_post.stl,   unit: mm, at: 930 0", "gate_post.stl,   unit: mm, at: 980 0"),
            Level.NOTE, ("no seam lies on this part", "gate post (20.7 mm", "check its place")),
    Mistake("a clamp is called a part", "gate_hinge",
            swap("left clamp,    role: clamp", "left clamp,    role: part"), Level.NOTE,
            ("no seam lies on this part", "left clamp", "is a clamp or a fixture")),
    Mistake("too much of the wire may touch", "gate_hinge", of_seam("wire end: 60 mm"), None,
            ("wire end", "50 mm")),
    Mistake("the seam may be anywhere", "gate_hinge", of_seam("off part: 600 mm"), None,
            ("off part", "50 mm", "another place")),
    Mistake("a move in the air has a wire's end", "gate_hinge",
            swap("retract, speed: 120 mm/s}", "retract, speed: 120 mm/s, wire end: 5 mm}"),
            None, ("wire end", "linear")),
    Mistake("an allowance without a unit", "gate_hinge", of_seam("off part: 4"), None,
            ("off part", "mm")),
]  # fmt: skip

HARMLESS = [
    Harmless("both parts 2.5 mm lower", "gate_hinge", parts_at(717.5, 777.5)),
    Harmless("both parts 1.5 mm higher", "gate_hinge", parts_at(721.5, 781.5)),
    Harmless("the base 2 mm higher", "gate_hinge", base_at("0 0 502")),
    Harmless("the base 1 mm nearer", "gate_hinge", base_at("1 0 500")),
    Harmless("a gap of 2 mm under the plate", "gate_hinge", parts_at(718, 780)),
    Harmless("parts 8 mm lower, and the seam says so", "gate_hinge",
             all_of(parts_at(712, 772), of_seam("off part: 9.5 mm"))),
    Harmless("a bead on a plain face that is meant", "gate_hinge",
             all_of(parts_at(700, 760), of_seam("surfacing: true"))),
    Harmless("a seam that is held to a millimetre and a half", "gate_hinge",
             of_seam("off part: 1.5 mm")),
    Harmless("a shorter end of the wire", "gate_hinge", of_seam("wire end: 3 mm")),
    Harmless("a longer end of the wire", "gate_hinge", of_seam("wire end: 9 mm")),
    Harmless("a stick-out of 15 mm, tool centre point and all, arm nearer", "gate_hinge",
             all_of(swap("wire: 18 mm", "wire: 15 mm"),
                    swap(TOOL, "at: 105.56 0 342.84 mm", TORCH))),
    Harmless("a wire of 1.6 mm", "gate_hinge",
             swap("wire diameter: 1.0 mm", "wire diameter: 1.6 mm", TORCH)),
    Harmless("a wire of 0.8 mm in the collar", "collar_seam",
             swap("wire diameter: 1.0 mm", "wire diameter: 0.8 mm", TORCH)),
    Harmless("no weave", "gate_hinge", swap("weave: hinge fillet, ", "")),
    Harmless("a wider weave", "gate_hinge", swap("amplitude: 2 mm", "amplitude: 2.8 mm")),
    Harmless("the seam there and back again", "gate_hinge", TWO_SEAMS),
    Harmless("the collar 2 mm aside on the table", "turned_collar",
             all_of(swap(f"{TURNED} 950 0 720", f"{TURNED} 950 2 720"),
                    swap("at: 950 0 732 mm", "at: 950 2 732 mm"))),
    Harmless("a rib beside the seam that the wire passes", "gate_hinge",
             block("rib", (4, 60, 2), (917.5, 0, 781))),
    Harmless("a bar above the plate that the wire passes", "gate_hinge",
             block("bar", (2, 20, 2), (923, 0, 781))),
    Harmless("a thin backing bar across the root", "gate_hinge",
             block("backing bar", (6, 100, 3), (928, 0, 778.5))),
    Harmless("an earlier bead in the root", "gate_hinge",
             block("bead", (3, 40, 3), (929.5, 10, 781))),
    Harmless("the girder 2 mm aside", "hanging_rail",
             swap("girder.stl,   unit: mm, at: 500", "girder.stl,   unit: mm, at: 502")),
    Harmless("a part called wire, where it was", "gate_hinge",
             swap("name: gate post,", "name: wire,")),
]  # fmt: skip

"""Sizes and units: bodies and torches that are not what their file is said to be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh

from pathsim.findings import Level
from tests.mistakes.case import Change, Harmless, Mistake, all_of, swap

TORCH = "../shop_arm/torch.yaml"
TCP = "at: 107.68 0 344.96 mm, turned: 0 45 0 deg"
NOZZLE = "../shop_arm/torch_nozzle.stl"
PIECES = ("../shop_arm/torch_body.stl", "../shop_arm/torch_neck.stl", NOZZLE)
CLAMP = "{name: left clamp,    role: clamp,   mesh: ../shop/toggle_clamp.stl,  unit: "
POST = "mesh: ../gate_hinge/gate_post.stl,   unit: "
INCH = 1 / 25.4


def redrawn(file: str, factor: float) -> Change:
    """Write a mesh ``factor`` times as large: in other units than it is said to be in."""

    def change(folder: Path) -> None:
        mesh = trimesh.load(folder / file, force="mesh")
        mesh.apply_scale(factor)
        mesh.export(folder / file)

    return change


def own_copy(old: str, new: str, factor: float) -> Change:
    """Give the one body with the text ``old`` a mesh of its own, ``factor`` times as large."""

    def change(folder: Path) -> None:
        trimesh.load(folder / old, force="mesh").apply_scale(factor).export(folder / new)

    return change


def with_body(line: str, size, at=(0.0, 0.0, 0.0)) -> Change:
    """Put one more body into the cell: a box of ``size`` mm round ``at`` in its own frame."""

    def change(folder: Path) -> None:
        box = trimesh.creation.box(size)
        box.apply_translation(at)
        box.export(folder / "added.stl")
        swap("\npoints:", f"  - {{{line}, mesh: added.stl, unit: mm}}\n\npoints:")(folder)

    return change


def torch_in_one(folder: Path) -> None:
    """Draw the whole torch as one mesh."""
    meshes = [trimesh.load(folder / file, force="mesh") for file in PIECES]
    trimesh.util.concatenate(meshes).export(folder / NOZZLE)
    text = (folder / TORCH).read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if "_body" not in line and "_neck" not in line]
    (folder / TORCH).write_text("\n".join(kept) + "\n", encoding="utf-8")


def bracket_on_nozzle(folder: Path) -> None:
    """Draw a sensor's bracket on the nozzle, on the side away from the plates."""
    nozzle = trimesh.load(folder / NOZZLE, force="mesh")
    box = trimesh.creation.box((8.0, 14.0, 12.0))
    box.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 4, (0, 1, 0)))
    box.apply_translation(np.array([37.0, 0.0, 300.0]) + 22.0 * np.array([0.7071, 0.0, 0.7071]))
    trimesh.util.concatenate([nozzle, box]).export(folder / NOZZLE)


def clamp(factor: float) -> Change:
    return all_of(
        own_copy("../shop/toggle_clamp.stl", "clamp.stl", factor),
        swap(CLAMP, CLAMP.replace("../shop/toggle_clamp.stl", "clamp.stl")),
    )


def whole_torch(factor: float) -> Change:
    return all_of(*(redrawn(file, factor) for file in PIECES))


MISTAKES = [
    Mistake(
        "a stick-out of 18 mm typed as 8 mm",
        "gate_hinge",
        swap("wire: 18 mm", "wire: 8 mm"),
        Level.WATCH,
        ("wire begins 7.0 mm in front of the nozzle", "15.0 mm or more"),
    ),
    # clamps and fixtures
    Mistake("clamp drawn in mm, called inch", "gate_hinge", swap(CLAMP + "mm", CLAMP + "in"),
            Level.STOP, ("left clamp", "mm, not inch", "in moves 1 to 5"), both_engines=True),
    Mistake("clamp drawn in mm, called cm", "offset_wrist", swap(CLAMP + "mm", CLAMP + "cm"),
            Level.STOP, ("left clamp is 1652 mm", "mm, not cm", "touches")),
    Mistake("clamp drawn in inch, called mm", "gate_hinge", clamp(INCH),
            Level.WATCH, ("left clamp is 6.5 mm", "unusual for a clamp", "inch")),
    Mistake("clamp drawn in cm, called mm", "gate_hinge", clamp(0.1),
            Level.WATCH, ("left clamp is 16.5 mm", "cm")),
    Mistake("fixture plate drawn in cm, called mm", "gate_hinge",
            redrawn("../shop/fixture_plate.stl", 0.1),
            Level.WATCH, ("fixture plate is 42.0 mm", "cm, not mm", "bears the")),
    Mistake("fixture plate drawn in mm, called inch", "gate_hinge",
            swap("fixture_plate.stl, unit: mm", "fixture_plate.stl, unit: in"),
            Level.STOP, ("fixture plate", "mm, not inch", "touches")),
    Mistake("stop blocks drawn in m, called mm", "collar_seam",
            redrawn("../shop/stop_block.stl", 0.001), Level.WATCH, ("far stop", "m, not mm")),
    # tables and stands
    Mistake("table drawn in inch, called mm", "gate_hinge", redrawn("../shop/table.stl", INCH),
            Level.WATCH, ("table is 47.2 mm", "unusual for a table")),
    Mistake("turning plate drawn in inch, called mm", "turned_collar",
            redrawn("turning_plate.stl", INCH), Level.WATCH, ("turning plate", "inch, not mm")),
    Mistake("pedestal drawn in cm, called mm", "gate_hinge",
            redrawn("../shop/pedestal.stl", 0.1),
            Level.WATCH, ("pedestal is 50.0 mm", "narrower than what stands on it", "cm")),
    # parts
    Mistake("post drawn in inch, called mm", "gate_hinge", redrawn("gate_post.stl", INCH),
            Level.WATCH, ("gate post is 20.5 mm", "inch, not mm", "the seam lies on it")),
    Mistake("post drawn in cm, called mm", "offset_wrist",
            redrawn("../gate_hinge/gate_post.stl", 0.1),
            Level.WATCH, ("gate post is 52.0 mm", "cm, not mm", "the seam lies on it")),
    Mistake("post drawn in mm, called inch", "gate_hinge", swap(POST + "mm", POST + "in"),
            Level.STOP, ("gate post", "mm, not inch", "the seam lies on it", "touches")),
    Mistake("collar pipe drawn in inch, called mm", "turned_collar",
            redrawn("../collar_seam/collar_pipe.ply", INCH),
            Level.WATCH, ("collar pipe is 4.3 mm", "inch, not mm")),
    Mistake("collar base drawn in mm, called cm", "collar_seam",
            swap("collar_base.stl,           unit: mm", "collar_base.stl, unit: cm"),
            Level.STOP, ("collar base is 2000 mm", "mm, not cm", "the seam lies on it")),
    # the torch
    Mistake("torch drawn in inch, called mm", "gate_hinge", whole_torch(INCH),
            Level.WATCH, ("all pieces 25.4 times as large", "inch, not mm")),
    Mistake("torch drawn in mm, called inch", "gate_hinge", swap("unit: mm", "unit: in", TORCH),
            Level.STOP, ("drawn in mm, not inch", "touches"), both_engines=True),
    Mistake("nozzle drawn in cm, called mm", "gate_hinge", redrawn(NOZZLE, 0.1),
            Level.WATCH, ("nozzle is 6.6 mm", "10 times as large", "cm, not mm")),
    Mistake("torch body drawn in cm, called mm", "collar_seam", redrawn(PIECES[0], 0.1),
            Level.WATCH, ("torch body", "175 mm of nothing", "cm, not mm")),
    Mistake("the neck was left out", "gate_hinge",
            swap("  - {name: neck, mesh: torch_neck.stl}\n", "", TORCH),
            Level.WATCH, ("between the torch body and the nozzle", "of nothing", "not measured")),
    Mistake("tool centre point 20 mm beside the nozzle", "gate_hinge",
            swap(TCP, TCP.replace("0 344.96", "20 344.96"), TORCH),
            Level.WATCH, ("wire does not come out of the torch", "nozzle")),
    Mistake("tool centre point 5 mm beside the middle", "gate_hinge",
            swap(TCP, TCP.replace("0 344.96", "5 344.96"), TORCH),
            Level.WATCH, ("leaves the nozzle 5.0 mm beside its middle",)),
    Mistake("tool centre point inside the nozzle", "gate_hinge",
            swap(TCP, TCP.replace("107.68 0 344.96", "93.54 0 330.82"), TORCH),
            Level.WATCH, ("tool centre point lies 5.0 mm inside the nozzle",)),
    Mistake("tool centre point in cm", "gate_hinge",
            swap(TCP, TCP.replace("107.68 0 344.96", "10.768 0 34.496"), TORCH),
            Level.WATCH, ("tool centre point", "10 times as far", "unit")),
    Mistake("the turn of the tool centre point was forgotten", "gate_hinge",
            swap("turned: 0 45 0 deg", "turned: 0 0 0 deg", TORCH),
            Level.WATCH, ("wire does not come out of the torch", "turned")),
    Mistake("the turn of the tool centre point is 20 deg off", "gate_hinge",
            swap("turned: 0 45 0 deg", "turned: 0 65 0 deg", TORCH),
            Level.WATCH, ("deg askew", "turned")),
    Mistake("stick-out 180 mm", "gate_hinge", swap("wire: 18 mm", "wire: 180 mm"),
            None, ("torch.wire", "180 mm", "is the unit right")),
    Mistake("stick-out 90 mm", "gate_hinge", swap("wire: 18 mm", "wire: 90 mm"),
            Level.WATCH, ("stick-out is 90.0 mm", "common practice", "unit right")),
    Mistake("stick-out 1.8 mm", "gate_hinge", swap("wire: 18 mm", "wire: 1.8 mm"),
            Level.WATCH, ("stick-out is 1.8 mm", "common practice")),
    Mistake("wire 1 cm thick", "gate_hinge", swap("diameter: 1.0 mm", "diameter: 1.0 cm", TORCH),
            Level.WATCH, ("wire is 10.00 mm thick", "unit")),
]  # fmt: skip

HARMLESS = [
    Harmless("stick-out 12 mm", "gate_hinge", swap("wire: 18 mm", "wire: 12 mm")),
    Harmless("stick-out 25 mm", "gate_hinge", swap("wire: 18 mm", "wire: 25 mm")),
    Harmless("stick-out 38 mm", "gate_hinge", swap("wire: 18 mm", "wire: 38 mm")),
    Harmless("stick-out 45 mm is only noted", "collar_seam", swap("wire: 18 mm", "wire: 45 mm")),
    Harmless("a thick wire", "gate_hinge", swap("diameter: 1.0 mm", "diameter: 2.4 mm", TORCH)),
    Harmless("a thin wire", "gate_hinge", swap("diameter: 1.0 mm", "diameter: 0.6 mm", TORCH)),
    Harmless("tool centre point 1 mm beside the middle", "gate_hinge",
             swap(TCP, TCP.replace("0 344.96", "1 344.96"), TORCH)),
    Harmless("the wire 3 deg askew", "gate_hinge",
             swap("turned: 0 45 0 deg", "turned: 0 48 0 deg", TORCH)),
    Harmless("the torch as one mesh", "gate_hinge", torch_in_one),
    Harmless("a sensor's bracket on the nozzle", "gate_hinge", bracket_on_nozzle),
    Harmless("torch drawn in inch and called so", "gate_hinge",
             all_of(whole_torch(INCH), swap("unit: mm", "unit: in", TORCH))),
    Harmless("post drawn in inch and called so", "gate_hinge",
             all_of(redrawn("gate_post.stl", INCH), swap(POST + "mm", POST + "in"))),
    Harmless("table drawn in m and called so", "gate_hinge",
             all_of(redrawn("../shop/table.stl", 0.001),
                    swap("table.stl,         unit: mm", "table.stl, unit: m"))),
    Harmless("a clamp half as large", "gate_hinge", clamp(0.5)),
    Harmless("a clamp a quarter as large", "gate_hinge", clamp(0.25)),
    Harmless("a clamp a little larger", "gate_hinge", clamp(1.1)),
    Harmless("a pin of 21 mm", "gate_hinge",
             with_body("name: pin, role: fixture, at: 850 60 720 mm", (8, 8, 21), (0, 0, 10.5))),
    Harmless("a tack plate of 24 mm, beside the seam", "gate_hinge",
             with_body("name: tack, role: part, at: 930 200 780 mm", (24, 20, 3), (0, 0, 1.5))),
    Harmless("a stop that is off the table, half as large as a block", "turned_collar",
             redrawn("../shop/stop_block.stl", 0.5)),
    Harmless("a narrow column in the corner", "gate_hinge",
             with_body("name: column, role: other, at: 1400 900 0 mm", (60, 60, 900), (0, 0, 450))),
    Harmless("a floor of 12 m", "gate_hinge",
             with_body("name: floor, role: other, at: 0 0 0 mm", (12e3, 12e3, 20), (0, 0, -10))),
    Harmless("a wall 3 m high behind the table", "gate_hinge",
             with_body("name: wall, role: other, at: 2000 0 0 mm", (100, 6e3, 3e3), (0, 0, 1500))),
    Harmless("a small part that is not welded here", "collar_seam",
             with_body("name: nut, role: part, at: 860 200 700 mm", (22, 22, 10), (0, 0, 5))),
    Harmless("a bar of 4 m on the table", "gate_hinge",
             with_body("name: bar, role: part, at: 1300 0 700 mm", (40, 4e3, 40), (0, 0, 20))),
]  # fmt: skip

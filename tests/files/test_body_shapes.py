"""Bodies and torches from numbers in a cell's files."""

import numpy as np
import pytest

from pathsim import load_cell
from tests.files.test_cell_folder import SAMPLES, only, shop, spoil

__all__ = ["shop"]
CLAMP = "mesh: ../shop/toggle_clamp.stl,  unit: mm, at: 840 115 720 mm"
NUMBERS = "reach: 90 mm, height: 76 mm, width: 40 mm, base: 60 mm, arm: 30 mm"


def test_a_body_may_be_a_shape_in_the_place_of_a_mesh(shop):
    spoil(shop, "gate_hinge/cell.yaml", CLAMP, f"toggle clamp: {{{NUMBERS}}}, at: 840 115 720 mm")
    body = load_cell(shop / "gate_hinge").body("left clamp")
    assert body.bounds == pytest.approx(np.array([[0.81, 0.095, 0.72], [0.96, 0.135, 0.796]]))
    assert body.unit == ""


SHAPES = {
    "box": "length: 80 cm, width: 600 mm, height: 20 mm, from: corner",
    "plate": "length: 800 mm, width: 600 mm, thickness: 20 mm",
    "wall": "length: 2 m, height: 1500 mm, thickness: 50 mm",
    "cylinder": "diameter: 100 mm, length: 400 mm",
    "pipe": "diameter: 100 mm, wall: 4 mm, length: 400 mm, along: x",
    "tube": "width: 60 mm, height: 40 mm, wall: 3 mm, length: 400 mm, along: z, root: 4 mm",
    "angle": "width: 60 mm, height: 40 mm, thickness: 5 mm, length: 400 mm",
    "channel": "width: 100 mm, height: 50 mm, web: 6 mm, flange: 8.5 mm, length: 400 mm",
    "beam": "width: 100 mm, height: 96 mm, web: 5 mm, flange: 8 mm, length: 400 mm, along: y",
    "bench": "length: 1200 mm, width: 800 mm, height: 750 mm, thickness: 50 mm, leg: 80 mm, "
    "slots: 3, slot width: 16 mm, slot depth: 25 mm",
    "pedestal": "height: 500 mm, column: 250 mm, plate: 400 mm, thickness: 20 mm",
    "stop block": "length: 100 mm, width: 50 mm, height: 80 mm, thickness: 12 mm",
    "toggle clamp": NUMBERS + ", pad: 12 mm, pad height: 5 mm",
    "c-clamp": "opening: 100 mm, throat: 80 mm, frame: 20 mm, width: 15 mm, screw: 120 mm, "
    "handle: 60 mm",
}


def test_every_shape_can_be_written(shop):
    lines = [
        f"  - {{name: thing {k}, role: other, {key}: {{{numbers}}}, at: {k} 30 0 m}}\n"
        for k, (key, numbers) in enumerate(SHAPES.items())
    ]
    spoil(shop, "gate_hinge/cell.yaml", "bodies:", "bodies:\n" + "".join(lines) + "  #")
    bodies = load_cell(shop / "gate_hinge").bodies
    assert len(bodies) == 7 + len(SHAPES)
    assert bodies[0].bounds[0] == pytest.approx([0, 30, 0])
    assert np.ptp(bodies[8].bounds, axis=0) == pytest.approx([0.1, 0.4, 0.096])


@pytest.mark.parametrize(
    ("written", "came", "expected"),
    [
        ("at: 840 115 720 mm", "neither a mesh nor a shape", "toggle clamp"),
        ("mesh: ../shop/toggle_clamp.stl, at: 840 115 720 mm", "without 'unit'", "unit: mm"),
        (
            "pipe: {diameter: 60 mm, wall: 3 mm, length: 1 m}, unit: mm, at: 0 0 0 mm",
            "'unit' or 'up' with 'pipe'",
            "with a mesh",
        ),
        (
            "pipe: {diameter: 60 mm, wall: 3 mm, length: 1 m}, mesh: a.stl, unit: mm, "
            "at: 0 0 0 mm",
            "mesh and pipe",
            "one of mesh",
        ),
        (
            "pipe: {diameter: 60 mm, wall: 30 mm, length: 1 m}, at: 0 0 0 mm",
            "wall 30 mm",
            "less than 30 mm",
        ),
        ("pipe: {diameter: 60, wall: 3 mm, length: 1 m}, at: 0 0 0 mm", "60", "mm, cm"),
        ("box: {length: 90 m, width: 1 m, height: 1 m}, at: 0 0 0 mm", "90 m", "at most"),
        ("pipe: {diameter: 60 mm, walls: 3 mm, wall: 3 mm, length: 1 m}, at: 0 0 0 mm",
         "not known", "wall"),
    ],
)  # fmt: skip
def test_what_makes_no_body_is_one_fault_at_its_line(shop, written, came, expected):
    spoil(shop, "gate_hinge/cell.yaml", CLAMP, written)
    fault = only(shop)
    assert came in fault.came
    assert expected in fault.expected
    assert fault.line == 12
    assert fault.key.startswith("bodies[4]")


BUILT = """format: 1
name: Torch by tape
wire diameter: 1.2 mm
built:
  body: {length: 180 mm, diameter: 60 mm}
  neck: {diameter: 24 mm, angle: 45 deg, radius: 80 mm, before: 30 mm, after: 50 mm}
  nozzle: {length: 70 mm, diameter: 26 mm, mouth: 19 mm, tip: 2 mm}
"""


def test_a_torch_may_be_built_from_numbers(shop):
    (shop / "shop_arm" / "torch.yaml").write_text(BUILT, encoding="utf-8")
    torch = load_cell(shop / "gate_hinge").torch
    c = np.sqrt(0.5)
    reach = 0.05 + 0.07 - 0.002 + 0.018
    place = [0.08 * (1 - c) + reach * c, 0, 0.21 + 0.08 * c + reach * c]
    assert torch.T_flange_tcp[:3, 3] == pytest.approx(place)
    assert [piece.name for piece in torch.pieces] == ["torch body", "neck", "nozzle"]
    tip = torch.wire_piece.mesh.bounds
    assert tip[1, 2] == pytest.approx(place[2], abs=1e-3)


@pytest.mark.parametrize(
    ("old", "new", "came", "expected"),
    [
        ("radius: 80 mm", "radius: 5 mm", "12 mm", "bend's radius"),
        ("built:", "unit: mm\nbuilt:", "'unit' and 'built'", "not both"),
        ("angle: 45 deg", "angle: 170 deg", "170 deg", "0 to 135 deg"),
    ],
)
def test_a_torch_that_cannot_be_is_one_fault(shop, old, new, came, expected):
    (shop / "shop_arm" / "torch.yaml").write_text(BUILT.replace(old, new), encoding="utf-8")
    fault = only(shop)
    assert came in fault.came
    assert expected in fault.expected


def test_the_samples_still_need_their_keys(shop):
    spoil(shop, "shop_arm/torch.yaml", "unit: mm\n", "")
    assert "'unit'" in only(shop).came
    assert SAMPLES.is_dir()

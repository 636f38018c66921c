"""``pathsim mesh``: what a file is, in words, and its line for a cell."""

import re

import numpy as np
import pytest
import trimesh
from ruamel.yaml import YAML

from pathsim import check, load_cell
from pathsim.cli.main import main
from pathsim.findings.kinds import FindingKind
from pathsim.mesh_files.measured import measured_mesh
from tests.files.test_cell_folder import faults, shop
from tests.mesh_files.step_text import step

__all__ = ["shop"]


def stand_in(shop, entry):
    path = shop / "gate_hinge/cell.yaml"
    text, count = re.subn(r"(\nbodies:.*\n)", rf"\1  - {entry}\n", path.read_text("utf-8"), count=1)
    assert count == 1
    path.write_text(text, "utf-8")


def said(capsys, *arguments):
    code = main(["mesh", *map(str, arguments)])
    out = capsys.readouterr()
    return code, out.out, " ".join(out.err.split())


def test_size_unit_triangles_and_the_line_for_the_cell(tmp_path, capsys):
    trimesh.creation.box((120, 60, 20)).export(tmp_path / "left_clamp.stl")
    code, out, _ = said(capsys, tmp_path / "left_clamp.stl")
    assert code == 0
    assert "12 triangles" in out and "Size 120.0 x 60.0 x 20.0 mm, read in mm" in out
    assert "cm 1200 mm, in 3048 mm" in out
    assert "Closed" in out and "20.0 mm at least" in out
    assert "{name: left clamp, role: fixture, mesh: left_clamp.stl, unit: mm, at: 0 0 0 mm}" in out


def test_a_pipes_thickness_is_that_of_its_wall(tmp_path):
    trimesh.creation.annulus(27, 30, 200, sections=64).export(tmp_path / "pipe.stl")
    found = measured_mesh(tmp_path / "pipe.stl")
    assert found.open_edges == 0
    least, median = found.thickness
    assert 2.9e-3 < least <= median < 3.1e-3


def test_a_plate_drawn_in_inches_that_would_be_foil_in_mm_is_doubted(tmp_path, capsys):
    """12 x 8 x 0.4 inch: 12 mm is a usual length, and 0.4 mm is no thickness of a plate."""
    trimesh.creation.box((12, 8, 0.4)).export(tmp_path / "base.stl")
    out = said(capsys, tmp_path / "base.stl")[1]
    assert "Too thin in mm" in out and "cm 4.0 mm, in 10.2 mm" in out
    assert "Too thin" not in said(capsys, tmp_path / "base.stl", "--unit", "in")[1]
    assert "Too thin" not in said(capsys, tmp_path / "base.stl", "--unit", "mm")[1]


def test_an_open_mesh_and_a_size_that_no_unit_fits_are_said(tmp_path, capsys):
    box = trimesh.creation.box((120, 60, 20))
    box.update_faces(np.arange(1, 12))
    box.export(tmp_path / "open.stl")
    assert "Not closed: 3 open edges" in said(capsys, tmp_path / "open.stl")[1]
    trimesh.creation.box((1e-3, 1e-3, 1e-3)).export(tmp_path / "dot.stl")
    assert "No unit fits" in said(capsys, tmp_path / "dot.stl")[1]
    code, out, _ = said(capsys, tmp_path / "open.stl", "--unit", "m")
    assert code == 0 and "Unusual in m" in out


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (("--unit", "ft"), "mm, cm, in, m"),
        (("--up", "x"), "y or z"),
        (("-o", "x.jpg"), ".png"),
    ],
)
def test_what_cannot_be_asked(tmp_path, capsys, more, says):
    trimesh.creation.box((120, 60, 20)).export(tmp_path / "a.stl")
    code, _, err = said(capsys, tmp_path / "a.stl", *more)
    assert code == 2 and says in err


def test_what_cannot_be_read(tmp_path, capsys):
    (tmp_path / "a.stl").write_bytes(b"solid nothing")
    code, _, err = said(capsys, tmp_path / "a.stl")
    assert code == 2 and "a.stl" in err
    assert "cannot be read" in said(capsys, tmp_path / "none.stl")[2]
    (tmp_path / "a.iges").write_bytes(b"x")
    assert "are not read" in said(capsys, tmp_path / "a.iges")[2]


def test_a_step_body_widens_its_margins_by_how_well_it_is_cut(shop):
    pytest.importorskip("cascadio", reason="the extra 'step' is not installed")
    (shop / "gate_hinge/pin.step").write_bytes(step("bar", (10.0, 80.0)))
    stand_in(shop, "{name: pin, role: other, mesh: pin.step, at: 840 300 720 mm}")
    cell = load_cell(shop / "gate_hinge")
    assert cell.body("pin").drawn_to == pytest.approx(1e-4)
    result = check(cell)
    rows = result.clearances
    of_pin = rows["body"] == "pin"
    air = of_pin & (rows["zone"] == "air") & (rows["of"] == "scene")
    assert air.any()
    assert rows["margin"][air] == pytest.approx(cell.margins.air + 1e-4)
    [note] = [f for f in result.findings if f.kind is FindingKind.PLACE_UNCERTAIN]
    assert "pin: drawn to 0.1 mm" in note.text


def test_a_unit_beside_a_step_file_is_a_fault(shop):
    (shop / "gate_hinge/pin.step").write_bytes(step("bar", (10.0, 80.0)))
    stand_in(shop, "{name: p, role: part, mesh: pin.step, unit: mm, at: 0 0 0 mm}")
    assert any("'unit' with a STEP file" in fault.came for fault in faults(shop))


def test_parts_are_listed_with_their_size_and_one_of_them_can_stand_in_the_cell(tmp_path, capsys):
    scene = trimesh.Scene()
    scene.add_geometry(trimesh.creation.box((0.3, 0.2, 0.01)), node_name="base: plate")
    scene.add_geometry(trimesh.creation.box((0.05, 0.04, 0.03)), node_name="stop")
    (tmp_path / "jig.glb").write_bytes(scene.export(file_type="glb"))
    _, out, _ = said(capsys, tmp_path / "jig.glb")
    assert "2 parts:" in out
    assert "'base: plate': 300.0 x 200.0 x 10.0 mm, 12 triangles" in out
    assert "'stop': 50.0 x 40.0 x 30.0 mm, 12 triangles" in out
    [entry] = [line for line in out.splitlines() if "part:" in line]
    read = YAML(typ="safe").load(entry)[0]
    assert read["part"] in ("base: plate", "stop") and read["mesh"] == "jig.glb"

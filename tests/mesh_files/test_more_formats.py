"""OFF and 3MF: the same shape in metres, and whatever is broken is said."""

import io
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh

from pathsim.errors import MeshError
from pathsim.mesh_files import load_mesh, open_edges, read_mesh, read_parts

BOX = trimesh.creation.box((120, 60, 20))
RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPE = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"


def object_of(box, number, name=""):
    vertices = "".join('<vertex x="{}" y="{}" z="{}"/>'.format(*v) for v in box.vertices)
    faces = "".join('<triangle v1="{}" v2="{}" v3="{}"/>'.format(*f) for f in box.faces)
    return (f'<object id="{number}" name="{name}" type="model"><mesh>'
            f"<vertices>{vertices}</vertices>"
            f"<triangles>{faces}</triangles></mesh></object>")  # fmt: skip


def three_mf(resources, build, unit='unit="millimeter"', more=""):
    model = (f'<?xml version="1.0"?><model {unit} xmlns="{CORE}" {more}><resources>{resources}'
             f"</resources><build>{build}</build></model>")  # fmt: skip
    rels = (f'<Relationships xmlns="{RELATIONS}"><Relationship Id="r" Type="{TYPE}" '
            'Target="/3D/3dmodel.model"/></Relationships>')  # fmt: skip
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("_rels/.rels", rels)
        archive.writestr("3D/3dmodel.model", model)
    return stream.getvalue()


def read(name, raw, unit=""):
    return read_mesh(Path(name), unit, raw)


@pytest.mark.parametrize(
    ("unit", "metres"),
    [('unit="millimeter"', 1e-3), ("", 1e-3), ('unit="inch"', 0.0254), ('unit="meter"', 1.0),
     ('unit="micron"', 1e-6), ('unit="centimeter"', 1e-2), ('unit="foot"', 0.3048)],
)  # fmt: skip
def test_the_unit_of_a_3mf_is_applied(unit, metres):
    mesh = read("x.3mf", three_mf(object_of(BOX, 1), '<item objectid="1"/>', unit))
    assert np.ptp(mesh.bounds, axis=0) == pytest.approx(np.array([120, 60, 20]) * metres)
    assert len(mesh.faces) == 12
    assert open_edges(mesh.vertices, mesh.faces) == 0


def test_a_unit_that_the_cell_says_otherwise_is_a_fault():
    raw = three_mf(object_of(BOX, 1), '<item objectid="1"/>', 'unit="inch"')
    assert read("x.3mf", raw, "in").bounds[1, 0] == pytest.approx(60 * 0.0254)
    with pytest.raises(MeshError, match="'inch', the cell says 'mm'"):
        read("x.3mf", raw, "mm")


def test_objects_within_objects_stand_where_all_their_placements_put_them():
    """Turned by 90 deg about z, then shifted; a pose acts from the right in the file."""
    resources = object_of(BOX, 1, "plate") + (
        '<object id="2" type="model"><components><component objectid="1" '
        'transform="0 1 0 -1 0 0 0 0 1 100 0 0"/></components></object>'
    )
    build = '<item objectid="2" transform="1 0 0 0 1 0 0 0 1 0 0 500"/><item objectid="1"/>'
    raw = three_mf(resources, build)
    mesh = read("x.3mf", raw)
    placed = mesh.vertices[: len(BOX.vertices)]
    expected = BOX.vertices @ np.array([[0, 1, 0], [-1, 0, 0], [0, 0, 1]]) + [100, 0, 500]
    np.testing.assert_allclose(placed, 1e-3 * expected, atol=1e-12)
    parts = read_parts(Path("x.3mf"), "", raw)
    assert [(part.name, len(part.faces)) for part in parts] == [("plate", 12), ("plate 2", 12)]
    second = read_mesh(Path("x.3mf"), "", raw, parts=["plate 2"])
    np.testing.assert_allclose(second.vertices, 1e-3 * BOX.vertices, atol=1e-12)
    mirrored = '<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>'
    mesh = read("x.3mf", three_mf(resources, mirrored))
    shape = trimesh.Trimesh(mesh.vertices, mesh.faces)
    assert shape.volume == pytest.approx(1e-9 * 120 * 60 * 20)  # still facing outwards


def test_a_nested_scene_of_glb_keeps_the_childs_place():
    scene = trimesh.Scene()
    move = trimesh.transformations.translation_matrix
    scene.graph.update("child", "world", matrix=move([0, 0, 5]))
    scene.add_geometry(trimesh.creation.box((1, 1, 1)), node_name="leaf", geom_name="pin",
                       parent_node_name="child", transform=move([3, 0, 0]))  # fmt: skip
    raw = scene.export(file_type="glb")
    mesh = read("x.glb", raw, "m")
    np.testing.assert_allclose(mesh.bounds, [[2.5, -0.5, 4.5], [3.5, 0.5, 5.5]], atol=1e-6)
    assert [len(part.faces) for part in read_parts(Path("x.glb"), "m", raw)] == [12]


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: three_mf(object_of(BOX, 1), '<item objectid="7"/>'), "object 7"),
        (lambda: three_mf(object_of(BOX, 1), ""), "builds nothing"),
        (lambda: three_mf("", '<item objectid="1"/>', 'unit="mile"'), "'mile'"),
        (lambda: three_mf(object_of(BOX, 1), '<item objectid="1" transform="1 0"/>'), "no matrix"),
        (lambda: three_mf('<object id="1"><components><component objectid="1"/></components>'
                          "</object>", '<item objectid="1"/>'), "circles"),
        (lambda: three_mf(object_of(BOX, 1).replace('v1="0"', 'v1="99"'), '<item objectid="1"/>'),
         "a vertex that it does not have"),
        (lambda: three_mf(object_of(BOX, 1).replace('x="60.0"', 'x="nan"'), '<item objectid="1"/>'),
         "not finite"),
        (lambda: three_mf(object_of(BOX, 1), '<item objectid="1"/>',
                          more='xmlns:b="http://lattice" requiredextensions="b"'), "http://lattice"),
        (lambda: three_mf(object_of(BOX, 1), '<item objectid="1"/>')[:-60], "cut off"),
        (lambda: three_mf(object_of(BOX, 1)[:-40], '<item objectid="1"/>'), "cut off or broken"),
        (lambda: three_mf('<object id="1"><lattice xmlns="http://lattice"/></object>',
                          '<item objectid="1"/>'), "object 1 has no triangles"),
        (lambda: three_mf('<object id="1"><mesh><vertices/><triangles/></mesh></object>'
                          + object_of(BOX, 2), '<item objectid="1"/><item objectid="2"/>'),
         "object 1 has no triangles"),
        (lambda: b"PK\x03\x04nonsense", "cut off"),
    ],
)  # fmt: skip
def test_a_broken_3mf_is_one_clear_message(make, says):
    with pytest.raises(MeshError, match=says):
        read("x.3mf", make())


def test_an_off_file_is_read_whatever_its_faces_have_for_corners():
    mesh = read("x.off", BOX.export(file_type="off").encode(), "mm")
    np.testing.assert_allclose(mesh.bounds, np.array([[-60, -30, -10], [60, 30, 10]]) / 1e3)
    square = b"OFF # a sheet\n4 1 0\n0 0 0\n1 0 0\n1 1 0\n0 1 0\n\n4 0 1 2 3 255 0 0\n"
    mesh = read("x.off", square, "m")
    assert mesh.faces.tolist() == [[0, 1, 2], [0, 2, 3]]
    assert read("x.off", square.replace(b"OFF # a sheet\n", b"COFF "), "m").faces.shape == (2, 3)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (b"OFF", b"OFG", "not OFF"),
        (b"4 1 0\n", b"4 x 0\n", "how many"),
        (b"4 1 0\n", b"9 1 0\n", "cut off|three numbers"),
        (b"4 1 0\n", b"4 2 0\n", "1 faces are missing"),
        (b"1 1 0\n", b"1 one 0\n", "line 5"),
        (b"4 0 1 2 3\n", b"4 0 1 2 7\n", "line 7 .* does not have"),
        (b"4 0 1 2 3\n", b"4 0 1 2\n", "three corners"),
        (b"4 0 1 2 3\n", b"3 0 1 2\n3 0 2 3\n", "line 8 .* behind the 1 faces"),
        (b"1 1 0\n", b"5\n", "line 5"),
        (b"1 1 0\n", b"1 nan 0\n", "not finite"),
    ],
)
def test_a_broken_off_is_one_clear_message(old, new, says):
    raw = b"OFF\n4 1 0\n0 0 0\n1 0 0\n1 1 0\n0 1 0\n4 0 1 2 3\n"
    assert old in raw
    with pytest.raises(MeshError, match=says):
        read("x.off", raw.replace(old, new), "m")


def test_open_edges_are_those_of_a_hole():
    assert open_edges(BOX.vertices, BOX.faces) == 0
    assert open_edges(BOX.vertices, BOX.faces[1:]) == 3
    # no corner shared, as in an STL
    apart = BOX.vertices[BOX.faces].reshape(-1, 3)
    assert open_edges(apart, np.arange(len(apart)).reshape(-1, 3)) == 0
    turned = BOX.faces.copy()
    turned[0] = turned[0][::-1]
    assert open_edges(BOX.vertices, turned) == 3


def test_load_mesh_needs_a_unit_only_where_the_file_has_none(tmp_path):
    (tmp_path / "a.stl").write_bytes(BOX.export(file_type="stl"))
    with pytest.raises(MeshError, match="does not say its unit"):
        load_mesh(tmp_path / "a.stl")
    (tmp_path / "a.3mf").write_bytes(three_mf(object_of(BOX, 1), '<item objectid="1"/>'))
    assert load_mesh(tmp_path / "a.3mf").bounds[1, 0] == pytest.approx(0.06)

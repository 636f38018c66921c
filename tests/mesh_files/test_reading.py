"""Reading meshes: the same shape from every format, and nothing lost in silence."""

import json
import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from pathsim.errors import MeshError
from pathsim.mesh_files import read_mesh
from pathsim.model import Mesh


@pytest.mark.parametrize("ending", ["stl", "obj", "ply", "glb"])
def test_every_format_gives_the_same_box_in_metres(ending):
    box = trimesh.creation.box((100, 60, 20))
    unit = "mm"
    if ending == "glb":
        box.apply_scale(0.001)
        unit = "m"
    raw = box.export(file_type=ending)
    raw = raw.encode() if isinstance(raw, str) else raw
    mesh = read_mesh(Path(f"x.{ending}"), unit, raw)
    np.testing.assert_allclose(mesh.bounds, [[-0.05, -0.03, -0.01], [0.05, 0.03, 0.01]], atol=1e-8)
    assert len(mesh.faces) == 12


def test_text_stl_and_placed_glb_scene():
    box = trimesh.creation.box((1, 1, 1))
    mesh = read_mesh(Path("x.stl"), "m", trimesh.exchange.stl.export_stl_ascii(box).encode())
    assert len(mesh.faces) == 12
    scene = trimesh.Scene()
    scene.add_geometry(box, transform=trimesh.transformations.translation_matrix([5, 0, 0]))
    scene.add_geometry(box, transform=trimesh.transformations.translation_matrix([0, 7, 0]))
    mesh = read_mesh(Path("x.glb"), "m", scene.export(file_type="glb"))
    np.testing.assert_allclose(mesh.bounds, [[-0.5, -0.5, -0.5], [5.5, 7.5, 0.5]], atol=1e-6)
    assert len(mesh.faces) == 24


def glb(primitives, **extra):
    """A GLB of four points in a plane, with an index list shared by all primitives."""
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]], "<f4").tobytes()
    indices = np.array([0, 1, 2, 3], "<u2").tobytes()
    entries = [
        {"attributes": {"POSITION": 0}, "indices": 1 if count == 3 else 2, "mode": mode}
        for mode, count in primitives
    ]
    view = {"buffer": 0, "byteOffset": len(points), "byteLength": len(indices)}
    scalar = {"bufferView": 1, "componentType": 5123, "type": "SCALAR"}
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": entries}],
        "buffers": [{"byteLength": len(points + indices)}],
        "bufferViews": [{"buffer": 0, "byteOffset": 0, "byteLength": len(points)}, view],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3"},
            {**scalar, "count": 3},
            {**scalar, "count": 4},
        ],
        **extra,
    }
    head = json.dumps(tree).encode()
    head += b" " * (-len(head) % 4)
    body = points + indices
    total = 12 + 8 + len(head) + 8 + len(body)
    return (
        struct.pack("<4sII", b"glTF", 2, total)
        + struct.pack("<I4s", len(head), b"JSON")
        + head
        + struct.pack("<I4s", len(body), b"BIN\0")
        + body
    )


def test_a_part_of_a_glb_that_the_reader_drops_is_noticed():
    triangles, strip, fan = (4, 3), (5, 4), (6, 4)
    assert len(read_mesh(Path("x.glb"), "m", glb([triangles])).faces) == 1
    assert len(read_mesh(Path("x.glb"), "m", glb([triangles, strip])).faces) == 3
    with pytest.raises(MeshError, match="has 3 triangles but only 1 could be read"):
        read_mesh(Path("x.glb"), "m", glb([triangles, fan]))
    needed = glb([triangles], extensionsRequired=["KHR_draco_mesh_compression"])
    with pytest.raises(MeshError, match="KHR_draco_mesh_compression"):
        read_mesh(Path("x.glb"), "m", needed)


def test_a_text_ply_cut_between_faces_of_four_corners_is_noticed():
    """Half the faces, each of two triangles, are as many triangles as faces were announced."""
    corners = [f"{x} {y} 0" for k in range(10) for x, y in ((k, 0), (k, 1), (k + 1, 1), (k + 1, 0))]
    rows = [f"4 {4 * k} {4 * k + 1} {4 * k + 2} {4 * k + 3}" for k in range(10)]
    whole = ply(corners, rows).replace(b"vertex 3", b"vertex 40")
    assert len(read_mesh(Path("x.ply"), "m", whole).faces) == 20
    cut = b"\n".join(whole.split(b"\n")[:-5]) + b"\n"
    with pytest.raises(MeshError, match="cut off"):
        read_mesh(Path("x.ply"), "m", cut)


QUADS = [(0, 0), (100, 0), (100, 100), (0, 100)]


def test_relative_corners_of_an_obj_count_from_their_line():
    """Counted from the file's end, both quads would lie in the place of the second."""
    text = ""
    for shift in (0, 500):
        text += "".join(f"v {x + shift} {y} 0\n" for x, y in QUADS) + "f -4 -3 -2 -1\n"
    mesh = read_mesh(Path("x.obj"), "mm", text.encode())
    assert len(mesh.faces) == 4
    np.testing.assert_allclose(mesh.bounds, [[0, 0, 0], [0.6, 0.1, 0]], atol=1e-12)


def test_an_obj_of_any_hand_is_read_alike():
    plain = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"
    other = "\tv\t0 0 0 # first\r\nv 1 0 0 1\r\nvn 0 0 1\r\nv 0 \\\r\n1 0\r\n"
    other += " f 1//1 2//1 \\\r\n 3//1 #\r\n"
    a, b = (read_mesh(Path("x.obj"), "m", text.encode()) for text in (plain, other))
    np.testing.assert_array_equal(a.vertices[a.faces], b.vertices[b.faces])


@pytest.mark.parametrize(
    ("line", "says"),
    [("f 0 1 2", "'0' is no corner"), ("f 1 2", "three corners"), ("surf 0 1 0 1 1 2", "'surf'"),
     ("F 1 2 3", "'F'"), ("fo 1 2 3", "'fo'"), ("f -9 1 2", "'-9'"), ("v 1 2", "coordinates")],
)  # fmt: skip
def test_what_an_obj_says_and_cannot_be_kept_is_refused(line, says):
    text = f"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n{line}\n"
    with pytest.raises(MeshError, match=f"line 5.*{says}"):
        read_mesh(Path("x.obj"), "m", text.encode())


def test_names_in_an_old_code_page_do_not_matter():
    text = "o Scharnier für Tor\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"
    assert len(read_mesh(Path("x.obj"), "mm", text.encode("latin-1")).faces) == 1


def ply(vertices, faces):
    return (
        "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\n"
        f"property float z\nelement face {len(faces)}\nproperty list uchar int vertex_indices\n"
        "end_header\n" + "\n".join(vertices) + "\n" + "\n".join(faces) + "\n"
    ).encode()


GOOD = ["0 0 0", "1 0 0", "0 1 0"]


def box_stl():
    return bytearray(trimesh.creation.box((1, 1, 1)).export(file_type="stl"))


def with_nan():
    raw = box_stl()
    raw[84 + 12 : 84 + 16] = np.float32(np.nan).tobytes()
    return bytes(raw)


@pytest.mark.parametrize(
    ("path", "unit", "raw", "says"),
    [
        ("x.stl", "mm", b"", "empty"),
        ("x.iges", "mm", b"x", "not read"),
        ("x.glb", "mm", b"glTF", "metres by its standard"),
        ("x.glb", "m", b"glTF", "cannot be read as GLB"),
        ("x.stl", "mm", bytes(box_stl()[:-20]), "cut off"),
        ("x.stl", "mm", with_nan(), "not finite|could be read"),
        ("x.obj", "mm", b"v 0 0 0\nv 1 0 0\nf 1 2 9\n", "cannot be read as OBJ|does not have"),
        ("x.obj", "mm", b"v 0 0 0\n", "no triangles|cannot be read"),
        ("x.ply", "mm", ply(GOOD, ["3 0 1 7"]), "does not have|cannot be read"),
        ("x.ply", "mm", ply(["0 0 0", "nan 0 0", "0 1 0"], ["3 0 1 2"]), "not finite"),
        ("x.ply", "mm", ply(["0 0 0", "inf 0 0", "0 1 0"], ["3 0 1 2"]), "not finite"),
        ("x.ply", "m", ply(["0 0 0", "1e7 0 0", "0 1 0"], ["3 0 1 2"]), "wrong unit"),
        ("x.ply", "mm", b"ply\nrubbish", "cannot be read|no triangles"),
    ],
)
def test_broken_files_are_refused(path, unit, raw, says):
    with pytest.raises(MeshError, match=says):
        read_mesh(Path(path), unit, raw)


@pytest.mark.parametrize("ending", ["stl", "obj", "ply", "glb"])
def test_cut_files_never_give_fewer_triangles(ending):
    """However a file is cut, it is refused or read whole."""
    ball = trimesh.creation.icosphere(1, 10 if ending != "glb" else 0.01)
    raw = ball.export(file_type=ending)
    raw = raw.encode() if isinstance(raw, str) else raw
    unit = "m" if ending == "glb" else "mm"
    whole = read_mesh(Path(f"x.{ending}"), unit, raw)
    rng = np.random.default_rng(0)
    refused = 0
    for cut in rng.integers(0, len(raw) - 2, 60):
        try:
            mesh = read_mesh(Path(f"x.{ending}"), unit, raw[:cut])
        except MeshError:
            refused += 1
            continue
        if ending == "obj":
            # an OBJ announces nothing: a cut one is a smaller mesh that looks whole
            assert len(mesh.faces) <= len(whole.faces)
        else:
            assert len(mesh.faces) == len(whole.faces)
    assert refused > 10


def test_mesh_itself_refuses_bad_arrays():
    good = np.eye(3)
    for vertices, faces, says in [
        (good, np.zeros((0, 3), int), "no triangles"),
        (good, [[0, 1, 3]], "does not have"),
        (good, [[0, 1, -1]], "does not have"),
        (good * np.nan, [[0, 1, 2]], "not finite"),
        (good[:, :2], [[0, 1, 2]], r"\(n, 3\)"),
        (good, [[0.0, 1.0, 2.0]], "whole numbers"),
    ]:
        with pytest.raises(MeshError, match=says):
            Mesh(vertices, np.array(faces))

"""Triangles of a plain OBJ against the library that reads all others."""

from pathlib import Path

import numpy as np
import pytest
import trimesh

from pathsim.mesh_files.obj_text import plain_obj, plain_triangles
from pathsim.mesh_files.reading import _loaded, read_mesh

SAMPLES = Path(__file__).parents[2] / "sample_cells"
FACE = "v 1 0 0\nv 1 1 0\nf 1 2 3\n"


def same(plain):
    vertices, faces = plain_triangles(plain)
    [(_, due_vertices, due_faces)] = _loaded(plain, ".obj")
    return (vertices[faces] == due_vertices[due_faces]).all()


def test_every_sample_mesh_comes_out_to_the_bit():
    files = list(SAMPLES.rglob("*.obj"))
    assert files and all(same(plain_obj(path.read_bytes())[0]) for path in files)


@pytest.mark.parametrize("seed", range(5))
def test_random_meshes_come_out_to_the_bit(seed):
    rng = np.random.default_rng(seed)
    mesh = trimesh.creation.icosphere(subdivisions=1, radius=rng.uniform(1, 900))
    mesh.vertices += rng.normal(size=mesh.vertices.shape) * 10.0 ** rng.integers(-7, 3)
    assert same(plain_obj(mesh.export(file_type="obj").encode())[0])


@pytest.mark.parametrize("first", ["v 0 0 x\n", "v 0 0 1_0\n", "v 0 0 nan\n", "v 0 0 inf\n"])
def test_numbers_that_are_none_are_left_to_the_library(first):
    assert plain_triangles(plain_obj((first + FACE).encode())[0]) is None


def test_a_quad_is_read_all_the_same_and_nothing_is_nothing():
    text = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n"
    assert plain_triangles(plain_obj(text)[0]) is None
    assert len(read_mesh(Path("quad.obj"), "mm", text).faces) == 2
    assert plain_triangles(plain_obj(b"#\n")[0]) is None

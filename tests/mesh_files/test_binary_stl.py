"""Binary STL against the library that reads the other formats."""

import io
from pathlib import Path

import numpy as np
import pytest
import trimesh

from pathsim.errors import MeshError
from pathsim.mesh_files.binary_stl import binary_stl
from pathsim.mesh_files.counts import is_binary_stl
from pathsim.mesh_files.reading import read_mesh

SAMPLES = Path(__file__).parents[2] / "sample_cells"


def test_every_sample_mesh_comes_out_to_the_bit():
    files = [path for path in SAMPLES.rglob("*.stl") if is_binary_stl(path.read_bytes())]
    assert len(files) > 20
    for path in files:
        raw = path.read_bytes()
        vertices, faces = binary_stl(raw)
        due = trimesh.load_mesh(io.BytesIO(raw), file_type="stl", process=False)
        assert (vertices == due.vertices).all() and (faces == due.faces).all()


def test_a_number_that_is_none_is_refused():
    raw = bytearray(trimesh.exchange.stl.export_stl(trimesh.creation.box()))
    raw[84 + 12 : 84 + 16] = np.float32("nan").tobytes()
    with pytest.raises(MeshError, match="not finite"):
        read_mesh(Path("box.stl"), "mm", bytes(raw))

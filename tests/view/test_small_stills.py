"""Pictures of one mesh, and of an arm at its display's zero."""

import numpy as np
import pytest
import trimesh
from PIL import Image

from pathsim.cli.main import main
from tests.files.test_cell_folder import SAMPLES

pytest.importorskip("pyvista", reason="the extra 'view' is not installed")


def drawn(path):
    with Image.open(path) as image:
        assert image.info["Software"] == "pathsim still"
        return np.asarray(image.convert("RGB")).astype(int)


def test_a_mesh_is_drawn_and_an_older_picture_replaced(tmp_path, capsys):
    trimesh.creation.box((120, 60, 20)).export(tmp_path / "a.stl")
    out = tmp_path / "a.png"
    for _ in range(2):
        assert main(["mesh", str(tmp_path / "a.stl"), "-o", str(out)]) == 0
    pixels = drawn(out)
    assert np.ptp(pixels, axis=(0, 1)).max() > 100
    out.write_bytes(b"something of mine")
    assert main(["mesh", str(tmp_path / "a.stl"), "-o", str(out)]) == 2
    assert out.read_bytes() == b"something of mine"
    capsys.readouterr()


def test_an_arm_is_drawn_at_zero_with_the_axes_of_its_flange(tmp_path, capsys):
    out = tmp_path / "zero.png"
    assert main(["arm", str(SAMPLES / "gate_hinge"), "-o", str(out)]) == 0
    red, green, blue = np.moveaxis(drawn(out), -1, 0)
    for one, a, b in ((red, green, blue), (green, red, blue), (blue, red, green)):
        assert ((one > a + 40) & (one > b + 40)).sum() > 100  # x, y and z each in its colour
    assert main(["arm", str(SAMPLES / "gate_hinge"), "-o", str(tmp_path / "zero.jpg")]) == 2
    capsys.readouterr()

"""Trees on disk: found again, and never believed when anything about them is not right."""

import numpy as np
import pytest

from pathsim.geometry import bvh as trees
from pathsim.geometry import bvh_file as tree_file
from pathsim.geometry.bvh_file import Use
from pathsim.kernels import cache_folder
from pathsim.model import Mesh
from tests.builders import ball

SUMS, HEAD = tree_file._SUMS, tree_file._HEAD


@pytest.fixture
def mesh(tmp_path, monkeypatch):
    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path))
    made = ball(0.2, fineness=5)
    assert len(made.faces) >= trees._WORTH_KEEPING
    return made


def same(a, b):
    return all(np.array_equal(x, y) for x, y in zip(a, b, strict=True))


def test_a_kept_tree_is_the_tree(mesh, monkeypatch):
    first = trees.box_tree(mesh)
    monkeypatch.setattr(trees, "split", None)  # nothing is built a second time
    assert same(trees.box_tree(Mesh(mesh.vertices, mesh.faces)), first)


def test_a_kept_tree_of_what_moves_is_the_tree(mesh, monkeypatch):
    first = trees.sphere_tree(mesh)
    monkeypatch.setattr(trees, "split", None)
    assert same(trees.sphere_tree(Mesh(mesh.vertices, mesh.faces)), first)


def test_a_tree_for_another_use_is_not_believed(mesh):
    trees.sphere_tree(mesh)
    path = tree_file.tree_path(mesh, Use.MOVING)
    path.rename(tree_file.tree_path(mesh, Use.STANDING))
    assert tree_file.load_tree(mesh, Use.STANDING) is None


@pytest.mark.usefixtures("mesh")
def test_small_meshes_are_not_kept(tmp_path):
    trees.box_tree(ball(0.1, fineness=2))
    assert not list(tmp_path.rglob("*.bvh"))


@pytest.mark.usefixtures("mesh")
def test_what_goes_with_the_next_point_taught_is_not_kept(tmp_path):
    large = ball(0.1, fineness=4)
    fleeting = Mesh(large.vertices, large.faces, is_fleeting=True)
    trees.box_tree(fleeting)
    trees.sphere_tree(fleeting.moved(np.eye(4)))
    assert not list(tmp_path.rglob("*.bvh"))
    trees.box_tree(large)
    assert list(tmp_path.rglob("*.bvh"))


@pytest.mark.usefixtures("mesh")
def test_the_folder_is_looked_through_once_for_many_small_files(monkeypatch):
    looked = []
    monkeypatch.setattr(tree_file, "_clear_out", looked.append)
    for k in range(5):
        trees.box_tree(ball(0.1 + 0.01 * k, fineness=3))
    assert len(looked) == 1


@pytest.mark.parametrize(
    "harm", ["cut short", "too long", "number", "byte", "counts", "exchanged", "empty", "text"]
)
def test_a_damaged_file_is_made_again(mesh, harm):
    first = trees.box_tree(mesh)
    path = tree_file.tree_path(mesh)
    whole = path.read_bytes()
    if harm == "cut short":
        path.write_bytes(whole[: len(whole) // 2])
    elif harm == "byte":
        path.write_bytes(whole[:5000] + bytes([whole[5000] ^ 1]) + whole[5001:])
    elif harm == "empty":
        path.write_bytes(b"")
    elif harm == "text":
        path.write_text("not a tree")
    elif harm == "too long":
        path.write_bytes(whole + bytes(8))
    elif harm == "counts":
        # As many bytes in all, read otherwise: 18 nodes of 80 bytes for 18 triangles of 80.
        counts = np.frombuffer(whole, "<i8", 2, SUMS) + [18, -18]
        path.write_bytes(whole[:SUMS] + counts.tobytes() + whole[HEAD:])
    elif harm == "exchanged":
        # The sum of all words stays: only the cyclic checksum notices.
        words = np.frombuffer(whole, "<u8").copy()
        second = 11 + int(np.flatnonzero(words[11:] != words[10])[0])
        words[[10, second]] = words[[second, 10]]
        path.write_bytes(words.tobytes())
    else:
        moved = np.frombuffer(whole, "<f8", offset=HEAD).copy()
        moved[0] += 1e-6
        path.write_bytes(whole[:HEAD] + moved.tobytes())
    assert tree_file.load_tree(mesh) is None
    assert same(trees.box_tree(mesh), first)
    assert tree_file.load_tree(mesh) is not None  # and kept anew


def test_a_tree_of_another_mesh_or_version_is_not_believed(mesh, monkeypatch):
    trees.box_tree(mesh)
    other = ball(0.21, fineness=5)
    tree_file.tree_path(mesh).rename(tree_file.tree_path(other))
    assert tree_file.load_tree(other) is None
    trees.box_tree(mesh)
    monkeypatch.setattr(tree_file, "VERSION", tree_file.VERSION + 1)
    assert tree_file.load_tree(mesh) is None


@pytest.mark.usefixtures("mesh")
def test_the_folder_stays_small(monkeypatch, tmp_path):
    monkeypatch.setattr(tree_file, "MOST_BYTES", 15_000_000)
    for k in range(6):
        trees.box_tree(ball(0.2 + 0.01 * k, fineness=5))
    sizes = [path.stat().st_size for path in tmp_path.rglob("*.bvh")]
    assert 0 < sum(sizes) <= 15_000_000


def test_nothing_is_kept_where_nothing_may_be(monkeypatch):
    monkeypatch.setenv(cache_folder.VARIABLE, "")
    big = ball(0.2, fineness=5)
    assert tree_file.tree_path(big) is None
    assert len(trees.box_tree(big).triangles) == len(big.faces)


def test_any_damage_is_met_with_a_new_tree(mesh):
    """Bytes changed anywhere, as many as there are: what the reader then raises is of any kind."""
    first = trees.box_tree(mesh)
    path = tree_file.tree_path(mesh)
    whole = path.read_bytes()
    ends = [*range(300), *range(len(whole) - 900, len(whole))]
    rng = np.random.default_rng(5)
    for place in [*rng.choice(ends, 250, replace=False), *rng.integers(len(whole), size=20)]:
        harmed = bytearray(whole)
        harmed[place] ^= int(rng.integers(1, 256))
        path.write_bytes(harmed)
        kept = tree_file.load_tree(mesh)
        assert kept is None or same(kept, first)

"""What a grid of triangles finds near, against looking at every triangle."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from pathsim.geometry import triangle_grid
from pathsim.geometry.surface import PartSurface
from pathsim.geometry.triangle_grid import TriangleGrid
from pathsim.model import Mesh
from tests.builders import box, needle


def scattered(count, seed, flat=False):
    """Triangles of all sizes, some of them without area, on a plane or in space."""
    rng = np.random.default_rng(seed)
    size = 10 ** rng.uniform(-4, -1, (count, 1, 1))
    corners = rng.uniform(-0.2, 0.2, (count, 1, 3)) + size * rng.normal(size=(count, 3, 3))
    corners[: count // 20, 2] = corners[: count // 20, 1]
    if flat:
        corners[..., 1] = 0.03
    return Mesh(corners.reshape(-1, 3), np.arange(3 * count).reshape(-1, 3))


def fine_box():
    shape = trimesh.creation.box((0.3, 0.2, 0.012)).subdivide_to_size(0.01)
    return Mesh(shape.vertices, shape.faces)


MESHES = {
    "scattered": scattered(700, 1),
    "flat": scattered(400, 2, flat=True),
    "fine": fine_box(),
    "one": Mesh(np.eye(3), np.array([[0, 1, 2]])),
    "point": Mesh(np.zeros((3, 3)), np.array([[0, 1, 2]])),
    "rod": needle([0, 0, 0], [0, 0, 5.0]),
}


def bounds_of(mesh):
    corners = mesh.vertices[mesh.faces]
    return corners.min(axis=1), corners.max(axis=1)


def pairs(found):
    """All pairs, and that they come as promised: rising, all of a box's together."""
    which, some = (np.concatenate(part) for part in zip(*found, strict=True))
    both = np.stack([which, some], axis=1).tolist()
    assert both == sorted(both)
    return {tuple(pair) for pair in both}


@pytest.fixture(params=[1_000_000, 200])
def at_once(request, monkeypatch):
    """Also worked out in many small groups."""
    monkeypatch.setattr(triangle_grid, "_AT_ONCE", request.param)


@pytest.mark.parametrize("name", MESHES)
@pytest.mark.usefixtures("at_once")
def test_boxes_meet_what_they_meet_one_by_one(name):
    mesh = MESHES[name]
    rng = np.random.default_rng(3)
    middle = np.concatenate([rng.uniform(-0.25, 0.25, (60, 3)), mesh.vertices[:20]])
    half = 10 ** rng.uniform(-4, -0.5, (len(middle), 1))
    low, high = middle - half, middle + half
    found = pairs(TriangleGrid(mesh).meeting(low, high))
    least, most = bounds_of(mesh)
    meets = (least <= high[:, None]).all(-1) & (most >= low[:, None]).all(-1)
    assert found == {tuple(pair) for pair in np.argwhere(meets).tolist()}
    assert len(found) >= 1


@pytest.mark.parametrize("name", MESHES)
@pytest.mark.usefixtures("at_once")
def test_planes_cut_nothing_that_was_not_told(name):
    mesh, wide = MESHES[name], 0.05
    rng = np.random.default_rng(4)
    places = np.concatenate([rng.uniform(-0.2, 0.2, (40, 3)), mesh.vertices[:10]])
    along = rng.normal(size=places.shape)
    along[::4] = np.eye(3)[rng.integers(0, 3, len(along[::4]))]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    found = pairs(TriangleGrid(mesh).crossing(places, along, wide))
    corners = mesh.vertices[mesh.faces]
    height = (corners - places[:, None, None]) @ along[:, None, :, None]
    is_cut = (height.min(axis=2) <= 0)[..., 0] & (height.max(axis=2) >= 0)[..., 0]
    least, most = bounds_of(mesh)
    is_near = (least <= (places + wide)[:, None]).all(-1)
    is_near &= (most >= (places - wide)[:, None]).all(-1)
    cut = {tuple(pair) for pair in np.argwhere(is_cut & is_near).tolist()}
    assert cut <= found
    assert found <= {tuple(pair) for pair in np.argwhere(is_near).tolist()}
    if name in {"scattered", "fine"}:
        assert len(cut) < len(found) < 2.5 * len(cut)


@pytest.mark.parametrize("name", MESHES)
@pytest.mark.usefixtures("at_once")
def test_rings_hold_each_cell_once(name):
    grid = TriangleGrid(MESHES[name])
    places = np.random.default_rng(5).uniform(-0.3, 0.3, (30, 3))
    # A place that is off by the limit itself, which no binary number is.
    places[0] = grid.low[:, 0] - 0.002
    seen, inner, outer = [], -np.inf, 0.002
    while (grid.farthest(places) > inner).any():
        for which, cells in grid.cells_beyond(places, inner, outer):
            if np.isfinite(inner):
                assert (grid.gaps(places[which], cells) >= inner - 1e-12).all()
            seen += zip(which.tolist(), cells.tolist(), strict=True)
        inner, outer = outer, 2 * outer
    everything = {(k, cell) for k in range(len(places)) for cell in range(grid.low.shape[1])}
    assert len(seen) == len(everything) and set(seen) == everything


@pytest.mark.parametrize("name", MESHES)
@pytest.mark.usefixtures("at_once")
def test_cells_hold_each_triangle_once(name):
    mesh = MESHES[name]
    grid, (least, most) = TriangleGrid(mesh), bounds_of(mesh)
    cells = np.arange(grid.low.shape[1])
    held = []
    for which, some in grid.triangles_in(cells, cells):
        for cell in np.unique(which):
            own = some[which == cell]
            np.testing.assert_array_equal(grid.low[:, cell], least[own].min(axis=0))
            np.testing.assert_array_equal(grid.high[:, cell], most[own].max(axis=0))
        held += some.tolist()
    assert sorted(held) == list(range(len(mesh.faces)))


@given(st.integers(0, 10**6), st.integers(1, 90), st.floats(1e-3, 30.0))
@settings(max_examples=60, deadline=None)
def test_the_nearest_triangle_is_among_those_told(seed, count, away):
    mesh = scattered(count, seed)
    place = np.random.default_rng(seed).normal(0, away, 3)
    told = TriangleGrid(mesh).may_be_nearest(place)
    nearest = PartSurface(mesh).nearest(place[None]).distance[0]
    alone = [
        PartSurface(Mesh(mesh.vertices, mesh.faces[[k]])).nearest(place[None]).distance[0]
        for k in range(count)
    ]
    assert min(alone) == pytest.approx(nearest, rel=1e-12)
    assert set(np.flatnonzero(alone == min(alone))) & set(told.tolist())


def test_few_triangles_are_looked_at_in_a_fine_mesh():
    """Of ten times the triangles a box as large as before meets ten times; a plane cuts 3 times."""
    counts = []
    for edge in (0.01, 0.0025):
        shape = trimesh.creation.box((0.3, 0.2, 0.1)).subdivide_to_size(edge)
        grid = TriangleGrid(Mesh(shape.vertices, shape.faces))
        at = np.array([[0.03, 0.02, 0.05]])
        cells = next(grid.cells_beyond(at, -np.inf, 0.002))[1]
        cut = next(grid.crossing(at, np.array([[1.0, 0.0, 0.0]]), 0.04))[1]
        counts.append((len(shape.faces), len(cells), len(cut)))
    (few, cells, cut), (many, more_cells, more_cut) = counts
    assert many > 12 * few
    assert more_cells <= 8 and cells <= 8
    assert more_cut < 5 * cut


def test_grids_are_kept_with_their_mesh():
    mesh = box()
    assert TriangleGrid.of(mesh) is TriangleGrid.of(mesh)
    assert TriangleGrid.of(box()) is not TriangleGrid.of(mesh)

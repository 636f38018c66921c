import os

import pytest

from pathsim.files.cell_writer import folder_aside
from pathsim.view.watcher import Watcher


def test_notices_saving_once(tmp_path):
    cell, shop = tmp_path / "cell", tmp_path / "shop"
    cell.mkdir()
    shop.mkdir()
    (cell / "cell.yaml").write_text("a")
    (shop / "clamp.stl").write_text("b")
    watcher = Watcher(cell)
    assert not watcher.changed()
    for path in (cell / "cell.yaml", shop / "clamp.stl"):
        path.write_text("longer than before")
        assert watcher.changed() and not watcher.changed()
    os.utime(cell / "cell.yaml", (1, 1))
    assert watcher.changed()
    (cell / "points.csv").write_text("new")
    assert watcher.changed()
    (cell / "points.csv").unlink()
    assert watcher.changed()
    (cell / "notes.txt").write_text("not a cell's file")
    assert not watcher.changed()


def test_notices_meshes_deeper_down_that_the_cell_names(tmp_path):
    cell, deep = tmp_path / "cell", tmp_path / "shop" / "meshes" / "clamps"
    cell.mkdir()
    deep.mkdir(parents=True)
    named, unnamed = deep / "left clamp.STL", deep / "spare.stl"
    named.write_text("a")
    unnamed.write_text("a")
    (cell / "cell.yaml").write_text(
        "bodies:\n  - {name: c, mesh: ../shop/meshes/clamps/left clamp.STL, unit: mm}\n"
        "arm: {description: 'arms/arm.yaml'}\n"
    )
    watcher = Watcher(cell)
    named.write_text("longer")
    assert watcher.changed() and not watcher.changed()
    unnamed.write_text("longer")
    assert not watcher.changed()
    # a description that comes later, and what it names in turn
    (cell / "arms").mkdir()
    (cell / "arms" / "link.ply").write_text("a")
    assert not watcher.changed()
    (cell / "arms" / "arm.yaml").write_text("links: [link.ply]")
    assert watcher.changed()
    (cell / "arms" / "link.ply").write_text("longer")
    assert watcher.changed()


@pytest.mark.parametrize(
    "name", ["gate.step", "gate.STP", "gate.3mf", "gate.off", "arm.urdf", "table.txt"]
)
def test_notices_every_kind_of_file_that_a_cell_may_name(tmp_path, name):
    cell = tmp_path / "cell"
    (cell / "deep").mkdir(parents=True)
    (cell / "deep" / name).write_text("a")
    (cell / "cell.yaml").write_text(f"bodies: [{{mesh: deep/{name}}}]")
    watcher = Watcher(cell)
    (cell / "deep" / name).write_text("longer")
    assert watcher.changed() and not watcher.changed()


def test_a_cell_that_is_being_written_beside_is_not_looked_at_before_it_is_whole(tmp_path):
    cell = tmp_path / "cell"
    cell.mkdir()
    (cell / "cell.yaml").write_text("a")
    watcher = Watcher(cell)
    with folder_aside(tmp_path, "cell_advised") as aside:
        (aside / "cell.yaml").write_text("b")
        assert not watcher.changed()
        aside.rename(tmp_path / "cell_advised")
    assert watcher.changed()

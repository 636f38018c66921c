import os

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

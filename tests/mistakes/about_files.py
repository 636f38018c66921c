"""Files that are mixed up: one named for another, cut short, doubled, or of another cell."""

from __future__ import annotations

import os
from pathlib import Path

from pathsim.findings import Level
from tests.mistakes.case import Harmless, Mistake, all_of, swap


def _twice_in_points(folder: Path) -> None:
    """Teach 'retract' a second time, with other joint values, at the end of the file."""
    path = folder / "points.csv"
    path.write_text(path.read_text(encoding="utf-8") + "retract,0,0,0,0,40,0\n", encoding="utf-8")


def _two_cells_in_one(folder: Path) -> None:
    """Join two cell files into one, as a paste at the end of a file does."""
    path, other = folder / "cell.yaml", folder.parent / "collar_seam" / "cell.yaml"
    text = path.read_text(encoding="utf-8") + other.read_text(encoding="utf-8")
    path.write_text(text, encoding="utf-8")


def _half_a_mesh(folder: Path) -> None:
    """Cut a mesh short, as a copy that was broken off does."""
    path = folder / "gate_post.stl"
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def _another_cells_points(folder: Path) -> None:
    """Put the points of a neighbouring cell into this one."""
    other = folder.parent / "collar_seam" / "points.csv"
    (folder / "points.csv").write_bytes(other.read_bytes())


def _cut_off_change(folder: Path) -> None:
    """Leave what a killed change of a description leaves behind."""
    record = '{"files": [{"file": "shop_arm/arm.yaml", "old": "", "new": ""}]}'
    (folder.parent / ".unfinished-change.json").write_text(record, encoding="utf-8")


def _linked_points(folder: Path) -> None:
    """Keep the points elsewhere in the shop's folder, with a link where the cell looks."""
    real = folder.parent / "shop" / "gate_points.csv"
    (folder / "points.csv").rename(real)
    (folder / "points.csv").symlink_to(os.path.relpath(real, folder))


def _for_a_spreadsheet(folder: Path) -> None:
    """Save the points as a spreadsheet does: semicolons, decimal commas, a mark at the start."""
    path = folder / "points.csv"
    text = path.read_text(encoding="utf-8").replace(",", ";").replace(".", ",")
    path.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())


def _left_over(folder: Path) -> None:
    """Leave what a killed program leaves: files and folders that are not finished."""
    (folder / ".points.csv.unfinished-x1").write_text("name,j1 deg\n", encoding="utf-8")
    other = folder.parent / ".gate_hinge.unfinished-x2"
    other.mkdir()
    (other / "cell.yaml").write_text("format: 1\n", encoding="utf-8")


def _others_in_the_folder(folder: Path) -> None:
    """Keep older files beside the cell's own."""
    (folder / "points old.csv").write_bytes((folder / "points.csv").read_bytes())
    (folder / "cell.yaml.bak").write_text("broken: [", encoding="utf-8")


def _windows_lines(folder: Path) -> None:
    """Save the cell file with the line ends of another system."""
    path = folder / "cell.yaml"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))


_POINTS = "points: {file: points.csv"

MISTAKES = [
    Mistake(
        "a mesh is named as the points file",
        "gate_hinge",
        swap(_POINTS, "points: {file: gate_post.stl"),
        None,
        ("gate_post.stl", "expected"),
    ),
    Mistake(
        "the cell file is named as the points file",
        "gate_hinge",
        swap(_POINTS, "points: {file: cell.yaml"),
        None,
        ("cell.yaml", "expected"),
    ),
    Mistake(
        "a point is taught twice in the file",
        "gate_hinge",
        _twice_in_points,
        None,
        ("points.csv:", "retract"),
    ),
    Mistake(
        "two cells pasted into one file", "gate_hinge", _two_cells_in_one, None, ("cell.yaml",)
    ),
    Mistake(
        "a mesh that was copied only half",
        "gate_hinge",
        _half_a_mesh,
        None,
        ("gate_post.stl", "cell.yaml:"),
    ),
    Mistake(
        "the points of the cell next door",
        "gate_hinge",
        _another_cells_points,
        Level.STOP,
        ("nozzle", "hinge plate", "weld start > weld end"),
        both_engines=True,
    ),
    Mistake(
        "a change of the descriptions that was cut off",
        "gate_hinge",
        _cut_off_change,
        None,
        ("shop_arm/arm.yaml", "cut off", "pathsim arm", "puts the old files back"),
    ),
]
HARMLESS = [
    Harmless("points kept elsewhere behind a link", "gate_hinge", _linked_points),
    Harmless("points saved by a spreadsheet with commas", "gate_hinge", _for_a_spreadsheet),
    Harmless("what a killed program left beside the cell", "gate_hinge", _left_over),
    Harmless("older files beside those that are read", "gate_hinge", _others_in_the_folder),
    Harmless("line ends of another system", "gate_hinge", _windows_lines),
    Harmless(
        "backslashes in the paths of meshes",
        "gate_hinge",
        swap("../shop_arm/arm.yaml", "..\\shop_arm\\arm.yaml"),
    ),
    Harmless(
        "line ends and table of two systems",
        "gate_hinge",
        all_of(_windows_lines, _for_a_spreadsheet, _linked_points),
    ),
]

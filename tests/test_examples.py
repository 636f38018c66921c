"""Every example runs as it stands, in a process of its own, and says what it is meant to say."""

import subprocess
import sys
from pathlib import Path

import pytest
import trimesh

EXAMPLES = Path(__file__).parents[1] / "examples"
CAUTION = "not a safety function"

SAYS = {
    "check_a_cell.py": ("stop: The neck touches the left clamp", "mm guaranteed", CAUTION),
    "move_a_clamp.py": (
        "0 mm: touches, neck to left clamp, move 4",
        "60 mm: -4.5",
        "retract",
        CAUTION,
    ),
    "scan_a_point.py": ("+0 mm:", "result.is_clear=True", CAUTION),
    "chart_to_csv.py": ("stretches of time",),
    "cell_from_scratch.py": ("watch: Link 1 has no shape", CAUTION),
    "many_variants.py": ("+0 mm: margins kept", "+40 mm: margins not kept", CAUTION),
    "read_a_results_json.py": ("not clear", "move 4: neck touches left clamp", CAUTION),
    "plot_clearance.py": ("Written: clearance.png",),
    "meshes_to_glb.py": ("meshes at 27.35 s", "'neck' and 'left clamp', touches"),
}


def test_every_example_is_run():
    assert {path.name for path in EXAMPLES.glob("*.py")} == set(SAYS)


@pytest.mark.parametrize("name", SAYS)
def test_an_example_runs(name, tmp_path):
    run = subprocess.run(
        [sys.executable, str(EXAMPLES / name)], cwd=tmp_path, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert [words for words in SAYS[name] if words not in run.stdout] == [], run.stdout
    if name == "chart_to_csv.py":
        rows = (tmp_path / "chart.csv").read_text(encoding="utf-8").splitlines()
        values = [float(row.split(",")[3]) for row in rows[1:]]
        assert len(values) > 100 and min(values) == pytest.approx(3.6, abs=0.1)
    if name == "meshes_to_glb.py":
        scene = trimesh.load(tmp_path / "moment.glb")
        assert {"nozzle", "left clamp", "arm base"} <= set(scene.geometry)
    if name == "plot_clearance.py":
        assert (tmp_path / "clearance.png").read_bytes().startswith(b"\x89PNG")

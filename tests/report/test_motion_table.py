"""The motion as a table: columns, units, and the same motion as the plan's."""

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pathsim import load_cell
from pathsim.cli.main import main
from pathsim.motion import plan_program
from pathsim.report.motion_table import motion_as_csv, motion_as_json

SAMPLES = Path(__file__).resolve().parents[2] / "sample_cells"


@pytest.mark.parametrize("name", ["gate_hinge", "hanging_rail", "turned_collar"])
def test_rows_are_the_plan(name):
    cell = load_cell(SAMPLES / name)
    trajectory = plan_program(cell)
    text = motion_as_csv(cell, trajectory)
    first, *lines = text.splitlines()
    assert first.startswith("# pathsim-motion 1") and "not a safety function" in first
    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
    assert len(rows) == sum(len(track.t) for track in trajectory.tracks)
    table = {key: np.array([float(row[key]) for row in rows]) for key in rows[0]}
    np.testing.assert_allclose(table["t s"], trajectory.t, atol=1e-8)
    axes = [k for k in table if k.endswith((" deg", "rail mm"))]
    scale = np.where(cell.axes.prismatic, 1e3, np.degrees(1))
    np.testing.assert_allclose(np.column_stack([table[k] for k in axes]), trajectory.q * scale,
                               atol=1e-6)  # fmt: skip
    T = cell.tool_poses(trajectory.q)
    tip = np.column_stack([table[f"{k} mm"] for k in "xyz"])
    np.testing.assert_allclose(tip, T[:, :3, 3] * 1e3, atol=1e-5)
    quat = np.column_stack([table[k] for k in ("qx", "qy", "qz", "qw")])
    np.testing.assert_allclose(Rotation.from_quat(quat).as_matrix(), T[:, :3, :3], atol=1e-8)
    # the arc burns on the seam and nowhere else; travel speed on a seam without weave is even
    burning = table["arc on"] == 1
    assert set(table["move"][burning]) == {3.0}
    seconds = table["t s"][burning][-1] - table["t s"][burning][0]
    assert seconds == pytest.approx(trajectory.tracks[2].duration, abs=1e-6)
    document = json.loads(motion_as_json(cell, trajectory))
    assert document["columns"] == list(table) and len(document["rows"]) == len(rows)
    assert document["rows"][7][0] == pytest.approx(table["t s"][7])


def test_command_writes_what_the_ending_says(tmp_path, capsys):
    for ending in ("csv", "json"):
        out = tmp_path / f"motion.{ending}"
        assert main(["motion", str(SAMPLES / "gate_hinge"), "-o", str(out)]) == 0
        assert out.stat().st_size > 10_000
    assert main(["motion", str(SAMPLES / "gate_hinge"), "-o", str(tmp_path / "m.txt")]) == 2
    assert ".csv or .json" in capsys.readouterr().err

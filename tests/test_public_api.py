"""The names of the README's example, and that a library never prints."""

import subprocess
import sys
from pathlib import Path

import numpy as np

import pathsim

SAMPLES = Path(__file__).parents[1] / "sample_cells"


def test_readme_example(capsys):
    cell = pathsim.load_cell(SAMPLES / "gate_hinge_no_retract")
    result = pathsim.check(cell)
    assert not result.is_clear
    assert result.findings[0].level is pathsim.Level.STOP
    assert len(result.moves) == len(cell.program.moves)
    assert result.trajectory.q.shape == (len(result.trajectory.t), 6)
    assert result.worst.clearance.touches
    assert capsys.readouterr() == ("", "")


def test_progress_rises_to_one():
    seen = []
    cell = pathsim.load_cell(SAMPLES / "wrist_in_line")
    pathsim.check(cell, progress=lambda text, share: seen.append((text, share)))
    shares = [share for _, share in seen]
    assert shares == sorted(shares) and shares[0] == 0 and shares[-1] == 1
    assert all(text for text, _ in seen)


def test_arm_from_rows():
    rows = [(0.0, np.pi / 2, 0.3), (0.4, 0.0, 0.0)]
    arm = pathsim.Arm.from_dh(rows, convention="standard")
    assert arm.pose(np.zeros((5, 2))).shape == (5, 4, 4)
    assert arm.jacobian(np.zeros(2)).shape == (6, 2)


def test_drawing_libraries_are_not_imported_by_a_check():
    code = (
        "import sys, pathsim; pathsim.check(pathsim.load_cell(sys.argv[1]));"
        "bad = {'pyvista', 'vtkmodules', 'matplotlib'} & set(sys.modules); assert not bad, bad"
    )
    subprocess.run([sys.executable, "-c", code, str(SAMPLES / "wrist_in_line")], check=True)


def test_a_check_starts_without_the_matrix_library():
    code = (
        "import sys, pathsim; pathsim.check(pathsim.load_cell(sys.argv[1]));"
        "bad = {'scipy.linalg', 'scipy.sparse', 'unittest', 'trimesh'} & set(sys.modules);"
        "assert not bad, bad"
    )
    subprocess.run([sys.executable, "-c", code, str(SAMPLES / "wrist_in_line")], check=True)


def test_others_in_the_process_still_have_the_matrix_library():
    """Only while ours start the compiler finds none."""
    code = (
        "import numpy as np; from pathsim.kernels.vectors import dot;"
        "assert dot((1.0, 2.0, 3.0), (4.0, 5.0, 6.0)) == 32.0;"
        "import numba;"
        "times = numba.njit(lambda a, b: a @ b);"
        "assert (times(2.0 * np.eye(2), np.ones((2, 2))) == 2.0).all()"
    )
    subprocess.run([sys.executable, "-c", code], check=True)

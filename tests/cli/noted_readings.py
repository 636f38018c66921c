"""A cell with readings noted off its display, for tests."""

from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from pathsim import load_cell

SAMPLES = Path(__file__).resolve().parents[2] / "sample_cells"


def note_readings(folder, shown_of, path, frame="base", count=6, flange=False):
    """Write what a display would show, from the cell as it truly is.

    Rotation angles come from scipy: fixed x-y-z are its lower-case "xyz".
    """
    c = load_cell(folder)
    lines = ["name,j1 deg,j2 deg,j3 deg,j4 deg,j5 deg,j6 deg,x mm,y mm,z mm,r1 deg,r2 deg,r3 deg"]
    rng = np.random.default_rng(12)
    for k in range(count):
        shown = np.round(rng.uniform(-60, 60, 6), 3)
        T = c.arm.pose(shown_of(np.radians(shown)))
        T = T if flange else T @ c.torch.T_flange_tcp
        T = c.T_world_base @ T if frame == "world" else T
        angles = Rotation.from_matrix(T[:3, :3]).as_euler("xyz", degrees=True)
        numbers = [*shown, *np.round(T[:3, 3] * 1e3, 2), *np.round(angles, 3)]
        lines.append(f"row {k + 1}," + ",".join(f"{v:g}" for v in numbers))
    path.write_text("\n".join(lines) + "\n")


ASK = ["--rotation", "fixed x-y-z"]

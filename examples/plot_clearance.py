"""Draw guaranteed clearance and joints over time into a picture; needs 'pathsim[plot]'."""

import sys
from pathlib import Path

import pathsim

SAMPLES = Path(__file__).parents[1] / "sample_cells"

target = Path(sys.argv[1] if len(sys.argv) > 1 else "clearance.png")
result = pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract"))
axes = pathsim.plot.plot_clearance(result)  # the caution stands under the time axis
axes.figure.savefig(target, dpi=120)
print(f"Written: {target.name}")

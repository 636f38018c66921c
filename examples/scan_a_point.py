"""Scan the height of a retract point and see what the clearance of the program does.

python examples/scan_a_point.py
"""

from pathlib import Path

import numpy as np

import pathsim
from pathsim.caution import CAUTION
from pathsim.transforms import inverse, translation

SAMPLES = Path(__file__).parents[1] / "sample_cells"


def main() -> None:
    """Lift 'retract' in steps of 20 mm and print the least guaranteed clearance in the air."""
    session = pathsim.Session()
    cell = pathsim.load_cell(SAMPLES / "gate_hinge")
    taught = cell.points["retract"].q
    T_flange_tcp = cell.torch.T_flange_tcp
    T_base_tcp = cell.arm.pose(taught) @ T_flange_tcp
    for lift in range(-40, 81, 20):
        higher = translation([0, 0, lift / 1e3]) @ T_base_tcp
        found = cell.arm.inverse(higher @ inverse(T_flange_tcp))
        if not len(found):
            print(f"{lift:+d} mm: out of reach")
            continue
        q = found[np.abs(found - taught).max(axis=1).argmin()]
        result = session.check(cell.with_point("retract", q=q))
        table = result.clearances
        air = table[(table["of"] == "scene") & (table["zone"] == "air")]
        print(f"{lift:+d} mm: {air['lower'].min() * 1e3:.1f} mm in the air, {result.is_clear=}")
    print(CAUTION)


if __name__ == "__main__":
    main()

"""Shift a clamp until the way home is clear of it, and see what is in the way then.

python examples/move_a_clamp.py
"""

from dataclasses import replace
from pathlib import Path

import pathsim
from pathsim.caution import CAUTION
from pathsim.transforms import translation

SAMPLES = Path(__file__).parents[1] / "sample_cells"


def main() -> None:
    """Shift the left clamp towards the arm, 20 mm at a time."""
    session = pathsim.Session()
    cell = pathsim.load_cell(SAMPLES / "gate_hinge_no_retract")
    clamp = cell.body("left clamp")
    for millimetres in range(0, 201, 20):
        T_world_body = translation([-millimetres / 1e3, 0, 0]) @ clamp.T_world_body
        quick = session.evaluate(cell.with_body(replace(clamp, T_world_body=T_world_body)))
        pair = f"{quick.piece} to {quick.body}, move {quick.move}"
        if quick.lower <= 0:
            print(f"{millimetres} mm: touches, {pair}")
            continue
        print(f"{millimetres} mm: {quick.spare * 1e3:+.1f} mm against the margin, {pair}")
        if quick.is_clear or quick.body != clamp.name:
            break
    if not quick.is_clear:
        print("The clamp alone does not cure it: 'pathsim advise' looks for a retract point.")
    print(CAUTION)


if __name__ == "__main__":
    main()

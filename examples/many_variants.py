"""The same program at many places of the part, fixture and clamps along y.

Every variant is measured between all its moments, not at samples; findings are not drawn here, so
check the variant that you use.
"""

from dataclasses import replace
from pathlib import Path

import pathsim
from pathsim.caution import CAUTION

SAMPLES = Path(__file__).parents[1] / "sample_cells"

cell = pathsim.load_cell(SAMPLES / "gate_hinge")
session = pathsim.Session()
for millimetres in range(-40, 41, 10):
    shift = pathsim.pose_at([0.0, millimetres / 1e3, 0.0])
    bodies = tuple(
        replace(body, T_world_body=shift @ body.T_world_body)
        if body.role in (pathsim.Role.PART, pathsim.Role.FIXTURE, pathsim.Role.CLAMP)
        else body
        for body in cell.bodies
    )
    quick = session.evaluate(replace(cell, bodies=bodies))
    said = "margins kept" if quick.is_clear else "margins not kept"
    pair = quick.why_not or f"{quick.piece} and {quick.body}, move {quick.move}"
    print(f"{millimetres:+d} mm: {said} ({pair})")
# The program was not moved along: whether the wire still meets the joint is another question.
print(CAUTION)

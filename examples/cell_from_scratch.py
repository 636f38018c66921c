"""Build a cell in Python, without any file, and check it.

The arm and the block are invented. No shapes are given for the arm's links, so nothing of the arm
itself is checked, and the check says so: only the torch and the wire are.
"""

import numpy as np

import pathsim as ps
from pathsim.caution import CAUTION

# Lengths of a dimension drawing in m; limits in rad, rad/s and rad/s2.
size = ps.Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10)
limits = np.tile([-3.0, 3.0], (6, 1))
arm = ps.Arm.from_dimensions(size, limits=limits, speed=[3.0] * 6, acceleration=[8.0] * 6)
nozzle = ps.TorchPiece("nozzle", ps.capsule([0, 0, 0], [0, 0, 0.25], 0.012))
torch = ps.Torch("straight torch", (nozzle,), ps.pose_at([0, 0, 0.28]), 0.018, 0.0012)
points = {"home": [0, 0, 0, 0, 1.2, 0], "left": [0.6, 0, 0, 0, 1.2, 0]}
moves = (ps.Move(ps.MoveKind.JOINT, "left", 0.4), ps.Move(ps.MoveKind.JOINT, "home", 0.4))
block = ps.Body("block", ps.Role.FIXTURE, ps.box([0.1, 0.1, 0.5]), ps.pose_at([0.9, 0.3, 0.5]))
cell = ps.Cell(
    arm=arm,
    torch=torch,
    points=points,
    program=ps.Program("home", moves),
    bodies=(block,),
    margins=ps.Margins(air=0.01, approach=0.0015, seam=0.0015),  # m
    tip_speed=1.5,  # m/s
    tip_acceleration=3.0,  # m/s2
)

print("Tip at 'left':", np.round(cell.tip(cell.points["left"].q) * 1e3, 1), "mm")
result = ps.check(cell)
for finding in result.findings:
    print(f"{finding.level}: {finding.text}")
print(CAUTION)

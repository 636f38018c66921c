"""Forward and inverse kinematics against the fastest libraries at hand, in one run.

    python -m tests.benchmarks.arm_speed

Prints seconds and ratios; nothing here is a gate. Each job is run three times, the best counts.
"""

from __future__ import annotations

import numpy as np

from pathsim.arm import Arm, Dimensions
from pathsim.arm.inverse import closed_form
from tests.benchmarks.clock import best_of

SIZE = Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10)
VECTORS, POSES = 100_000, 10_000


def main():
    arm = Arm.from_dimensions(SIZE)
    rng = np.random.default_rng(1)
    q = rng.uniform(-2.5, 2.5, (VECTORS, 6))
    T = arm.pose(q[:POSES])
    solver = closed_form(arm)
    forward = best_of(3, lambda: arm.link_poses(q))
    inverse = best_of(3, lambda: solver.solve(T, 0.0))
    print(f"ours: all links of {VECTORS} vectors {forward:.3f} s, ", end="")
    print(f"all solutions of {POSES} poses {inverse:.3f} s")
    _opw(q, arm.pose(q[:POSES]), forward, inverse)
    _pinocchio(q, forward)


def _opw(q, T, forward, inverse):
    try:
        import py_opw_kinematics as opw
        from scipy.spatial.transform import RigidTransform
    except ImportError:
        print("py-opw-kinematics is not installed")
        return
    model = opw.KinematicModel(a1=SIZE.shoulder_offset, a2=-SIZE.elbow_offset, b=0.0,
                               c1=SIZE.shoulder_height, c2=SIZE.upper_arm, c3=SIZE.forearm,
                               c4=SIZE.flange)  # fmt: skip
    robot = opw.Robot(model, degrees=False)
    poses = [RigidTransform.from_matrix(pose) for pose in T]
    one = best_of(1, lambda: [robot.forward(row) for row in q[:POSES]]) * VECTORS / POSES
    solved = best_of(1, lambda: [robot.inverse(pose) for pose in poses])
    print(f"py-opw-kinematics, one at a time: flange of {VECTORS} vectors {one:.3f} s, ", end="")
    print(f"solutions {solved:.3f} s; we take {forward / one:.2f} and {inverse / solved:.2f} of it")
    batch = RigidTransform.from_matrix(T)
    for what, job, ours in (
        ("flange of all vectors", lambda: robot.batch_forward(q), forward),
        ("all links of all vectors", lambda: robot.batch_joint_poses(q), forward),
        ("one solution of all poses", lambda: robot.batch_inverse(batch), inverse),
    ):
        seconds = best_of(3, job)
        print(f"  in one batch, {what}: {seconds:.3f} s; we take {ours / seconds:.2f} of it")


def _pinocchio(q, forward):
    try:
        import pinocchio as pin
    except ImportError:
        print("pinocchio is not installed")
        return
    model = pin.Model()
    arm = Arm.from_dimensions(SIZE)
    parent = 0
    for i in range(6):
        parent = model.addJoint(parent, pin.JointModelRZ(), pin.SE3(arm.fixed[i]), f"j{i}")
    data = model.createData()

    def all_links():
        out = np.empty((VECTORS, 6, 4, 4))
        for k, row in enumerate(q):
            pin.forwardKinematics(model, data, row)
            for i in range(6):
                out[k, i] = data.oMi[i + 1].homogeneous
        return out

    def bare():
        for row in q:
            pin.forwardKinematics(model, data, row)

    whole, alone = best_of(1, all_links), best_of(1, bare)
    print(f"pinocchio, one at a time: links kept {whole:.3f} s, computed only {alone:.3f} s")
    print(f"  we take {forward / whole:.2f} and {forward / alone:.2f} of it")


if __name__ == "__main__":
    main()

"""Write the cell with the arm at its tightest moment as one GLB, for any viewer of meshes.

python examples/meshes_to_glb.py moment.glb
"""

import sys
from pathlib import Path

import trimesh

import pathsim

SAMPLES = Path(__file__).parents[1] / "sample_cells"


def main(out: Path) -> None:
    """Pose all meshes at the moment of the worst pair; metres, z up."""
    cell = pathsim.load_cell(SAMPLES / "gate_hinge_no_retract")
    result = pathsim.check(cell)
    worst = result.worst
    assert worst is not None, "nothing was measured"
    q = result.trajectory.q_at(worst.clearance.time)
    scene = trimesh.Scene(
        {
            name: trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
            for name, mesh in cell.posed(q).items()
        }
    )
    scene.export(out)
    print(f"{len(scene.geometry)} meshes at {worst.clearance.time:.2f} s: {worst}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("moment.glb"))

"""Check the eight moves against meshes from a file and print the most memory taken, MB.

    python -m tests.benchmarks.clearance_memory meshes.npz

Linux only: read from the kernel's own account of this program. The usual ``ru_maxrss`` is of
no use here: it goes on from what the starting process had, however large that was.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from pathsim.model import Mesh
from tests.benchmarks.clearance_scenes import eight_moves
from tests.benchmarks.clearance_speed import Ours


def most_memory():
    """Most memory that this program has had since it started, MB."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) // 1024
    raise RuntimeError("the system does not tell how much memory was taken")


def main():
    cell = eight_moves()
    with np.load(sys.argv[1]) as kept:
        bodies = tuple(
            replace(body, mesh=Mesh(kept[f"v{k}"], kept[f"f{k}"]))
            for k, body in enumerate(cell.bodies)
        )
    Ours(replace(cell, bodies=bodies))
    print(most_memory())


if __name__ == "__main__":
    main()

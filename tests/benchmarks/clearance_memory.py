"""Check the eight moves against meshes from a file and print the most memory taken, MB.

    python -m tests.benchmarks.clearance_memory meshes.npz

POSIX only: other systems have no such number.
"""

import resource
import sys
from dataclasses import replace

import numpy as np

from pathsim.model import Mesh
from tests.benchmarks.clearance_scenes import eight_moves
from tests.benchmarks.clearance_speed import Ours


def main():
    cell = eight_moves()
    with np.load(sys.argv[1]) as kept:
        bodies = tuple(
            replace(body, mesh=Mesh(kept[f"v{k}"], kept[f"f{k}"]))
            for k, body in enumerate(cell.bodies)
        )
    Ours(replace(cell, bodies=bodies))
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)


if __name__ == "__main__":
    main()

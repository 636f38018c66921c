"""Run by ``step_file``: turn a STEP file into a GLB, in a process of its own.

The library that does it may take minutes, use gigabytes or end in a crash: none of that may happen
to a check. Usage: ``python -m pathsim.mesh_files.step_child STEP GLB MILLIMETRES``.
"""

from __future__ import annotations

import sys


def main(arguments: list[str]) -> int:
    """Return 0 once the GLB is written."""
    import cascadio

    source, target, millimetres = arguments
    # An absolute length: relative to each edge a large radius would be off by half a millimetre.
    return int(cascadio.step_to_glb(source, target, float(millimetres), 0.5, tol_relative=False))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""Triangle meshes from STL, OBJ, OFF, PLY, GLB, 3MF and STEP files, for cells and scripts."""

from pathsim.mesh_files.closedness import open_edges
from pathsim.mesh_files.reading import (
    FORMATS,
    OWN_UNIT,
    STEP,
    drawn_to,
    load_mesh,
    part_names,
    read_mesh,
    stood_up,
)

__all__ = [
    "FORMATS",
    "OWN_UNIT",
    "STEP",
    "drawn_to",
    "load_mesh",
    "open_edges",
    "part_names",
    "read_mesh",
    "stood_up",
]

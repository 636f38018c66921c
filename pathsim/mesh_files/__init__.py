"""Triangle meshes from STL, OBJ, OFF, PLY, GLB, 3MF and STEP files, for cells and scripts."""

from pathsim.mesh_files.closedness import open_edges
from pathsim.mesh_files.parts import chosen, in_words
from pathsim.mesh_files.reading import (
    FORMATS,
    NAMES_PARTS,
    OWN_UNIT,
    STEP,
    drawn_to,
    load_mesh,
    mesh_of,
    read_mesh,
    read_parts,
    stood_up,
)

__all__ = [
    "FORMATS",
    "NAMES_PARTS",
    "OWN_UNIT",
    "STEP",
    "chosen",
    "drawn_to",
    "in_words",
    "load_mesh",
    "mesh_of",
    "open_edges",
    "read_mesh",
    "read_parts",
    "stood_up",
]

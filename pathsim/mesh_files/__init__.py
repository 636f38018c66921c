"""Triangle meshes from STL, OBJ, PLY and GLB files, for cells and for scripts alike."""

from pathsim.mesh_files.reading import FORMATS, read_mesh

__all__ = ["FORMATS", "read_mesh"]

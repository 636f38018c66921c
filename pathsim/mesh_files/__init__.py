"""Triangle meshes from STL, OBJ, PLY and GLB files, for cells and for scripts alike."""

from pathsim.mesh_files.reading import FORMATS, load_mesh, read_mesh, stood_up

__all__ = ["FORMATS", "load_mesh", "read_mesh", "stood_up"]

"""Triangle meshes: trees over them, distances, containment. Numpy and kernels only."""

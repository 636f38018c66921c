"""The files of a cell: read with line numbers, checked strictly, every fault at once."""

from pathsim.files.cell_folder import load_cell
from pathsim.files.cell_saving import save_cell

__all__ = ["load_cell", "save_cell"]

"""pathsim: preview a taught arc-welding path before the first slow run.

A preview of the model supplied, not a safety function: first run slow, arc off,
hold-to-run, nobody in the safeguarded space.
"""

from pathsim.arm import Arm
from pathsim.check import CheckResult, check
from pathsim.errors import CannotCheck, CellFaults, Fault, PathsimError
from pathsim.files import load_cell
from pathsim.findings import Finding, Level
from pathsim.model import Body, Cell, Mesh, Move, MoveKind, Point, Program, Role
from pathsim.session import Quick, Session

__version__ = "0.1.0"

__all__ = [
    "Arm",
    "Body",
    "CannotCheck",
    "Cell",
    "CellFaults",
    "CheckResult",
    "Fault",
    "Finding",
    "Level",
    "Mesh",
    "Move",
    "MoveKind",
    "PathsimError",
    "Point",
    "Program",
    "Quick",
    "Role",
    "Session",
    "check",
    "load_cell",
]

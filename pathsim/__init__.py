"""pathsim: preview a taught arc-welding path before the first slow run.

A preview of the model supplied, not a safety function: first run slow, arc off,
hold-to-run, nobody in the safeguarded space.
"""

from pathsim.arm import Arm
from pathsim.check import CheckResult, check
from pathsim.errors import CannotCheck, CellFaults, Fault, PathsimError
from pathsim.files import load_cell
from pathsim.findings import Finding, Level

__version__ = "0.1.0"

__all__ = [
    "Arm",
    "CannotCheck",
    "CellFaults",
    "CheckResult",
    "Fault",
    "Finding",
    "Level",
    "PathsimError",
    "check",
    "load_cell",
]

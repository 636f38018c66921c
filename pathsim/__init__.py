"""pathsim: preview a taught arc-welding path before the first slow run.

A preview of the model supplied, not a safety function: first run slow and arc off, in manual
reduced speed with the enabling device held, or in automatic with nobody inside the guard.

Metres, radians and seconds, float64, right-handed frames, +Z up in the world; ``T_parent_child``
maps coordinates of the child to the parent.
"""

import gc
from importlib import import_module
from typing import TYPE_CHECKING, Any

_COLLECTS = gc.isenabled()
gc.disable()  # nothing of what is imported is garbage, and looking takes a twentieth of a check
try:
    from pathsim.arm import Arm, Dimensions, ReadingsMap
    from pathsim.check import CheckResult, check
    from pathsim.clearance.records import ClearanceProfile
    from pathsim.errors import (
        ArmError,
        CannotCheck,
        CellError,
        CellFaults,
        Fault,
        MeshError,
        MotionError,
        PathsimError,
        ShapeError,
        UnitError,
    )
    from pathsim.files import load_cell, save_cell
    from pathsim.findings import Finding, Level
    from pathsim.findings.placement_tolerance import PlacementTolerance
    from pathsim.geometry.solids import box, capsule, cylinder
    from pathsim.model import (
        Body,
        Cable,
        Cell,
        DwellCounts,
        Group,
        Margins,
        Mesh,
        Move,
        MoveKind,
        Multipass,
        Pass,
        Pattern,
        Point,
        Program,
        Role,
        Schedule,
        Search,
        Station,
        StationKind,
        Stitch,
        TiltAxis,
        ToDo,
        Torch,
        TorchPiece,
        TurningTable,
        Weave,
        tack,
    )
    from pathsim.model.process import Process
    from pathsim.motion import Trajectory
    from pathsim.quick import Quick
    from pathsim.session import Session
    from pathsim.transforms import pose_at
finally:
    if _COLLECTS:
        gc.enable()

if TYPE_CHECKING:
    from pathsim.advice import Advice, Proposal
    from pathsim.advice.for_cell import advise

__version__ = "0.1.0"

__all__ = [
    "Advice",
    "Arm",
    "ArmError",
    "Body",
    "Cable",
    "CannotCheck",
    "Cell",
    "CellError",
    "CellFaults",
    "CheckResult",
    "ClearanceProfile",
    "Dimensions",
    "DwellCounts",
    "Fault",
    "Finding",
    "Group",
    "Level",
    "Margins",
    "Mesh",
    "MeshError",
    "MotionError",
    "Move",
    "MoveKind",
    "Multipass",
    "Pass",
    "PathsimError",
    "Pattern",
    "PlacementTolerance",
    "Point",
    "Process",
    "Program",
    "Proposal",
    "Quick",
    "ReadingsMap",
    "Role",
    "Schedule",
    "Search",
    "Session",
    "ShapeError",
    "Station",
    "StationKind",
    "Stitch",
    "TiltAxis",
    "ToDo",
    "Torch",
    "TorchPiece",
    "Trajectory",
    "TurningTable",
    "UnitError",
    "Weave",
    "advise",
    "box",
    "capsule",
    "check",
    "cylinder",
    "load_cell",
    "pose_at",
    "save_cell",
    "tack",
]


#: Where the names are that a check does not need: it starts sooner without them.
_LATER = {
    "Advice": "pathsim.advice",
    "Proposal": "pathsim.advice",
    "advise": "pathsim.advice.for_cell",
}


def __getattr__(name: str) -> Any:
    """Import what is asked for: advice, and ``pathsim.plot``, which needs a drawing library."""
    if name == "plot":
        return import_module("pathsim.plot")
    if name in _LATER:
        return getattr(import_module(_LATER[name]), name)
    raise AttributeError(f"module 'pathsim' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__, "plot"})

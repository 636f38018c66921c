"""From the program to knots in time: joint, linear and arc moves, seams with a weave."""

from pathsim.motion.laid import LaidMoves
from pathsim.motion.plan import plan_program
from pathsim.motion.trajectory import (
    PATH_ERROR,
    FaultKind,
    MoveFault,
    MoveTrack,
    NoteKind,
    PlanNote,
    Trajectory,
)

__all__ = [
    "PATH_ERROR",
    "FaultKind",
    "LaidMoves",
    "MoveFault",
    "MoveTrack",
    "NoteKind",
    "PlanNote",
    "Trajectory",
    "plan_program",
]

"""From the program to knots in time: joint, linear and arc moves, seams with a weave."""

from pathsim.motion.laid import LaidMoves
from pathsim.motion.notes import NoteKind, Pick, PlanNote
from pathsim.motion.plan import plan_program
from pathsim.motion.trajectory import (
    PATH_ERROR,
    FaultKind,
    MoveFault,
    MoveTrack,
    Trajectory,
)
from pathsim.motion.two_ways import Alignment, TwoWays

__all__ = [
    "PATH_ERROR",
    "Alignment",
    "FaultKind",
    "LaidMoves",
    "MoveFault",
    "MoveTrack",
    "NoteKind",
    "Pick",
    "PlanNote",
    "Trajectory",
    "TwoWays",
    "plan_program",
]

"""From the program to knots in time: joint, linear and arc moves, seams with a weave."""

from pathsim.motion.move_cache import MoveCache
from pathsim.motion.notes import NoteKind, Pick, PlanNote
from pathsim.motion.planner import plan_program
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
    "MoveCache",
    "MoveFault",
    "MoveTrack",
    "NoteKind",
    "Pick",
    "PlanNote",
    "Trajectory",
    "TwoWays",
    "plan_program",
]

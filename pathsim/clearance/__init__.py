"""How far everything that moves stays from everything that stands, proved between samples."""

from pathsim.clearance.choose import Kept, engine_for
from pathsim.clearance.engine import Engine, MoveMeasure, Question, Span
from pathsim.clearance.measure import MoveClearance, PairClearance, measure_moves
from pathsim.clearance.records import Clearance, LeftOut
from pathsim.clearance.reference import ReferenceEngine
from pathsim.clearance.rules import Standing, Stretch

__all__ = [
    "Clearance",
    "Engine",
    "Kept",
    "LeftOut",
    "MoveClearance",
    "MoveMeasure",
    "PairClearance",
    "Question",
    "ReferenceEngine",
    "Span",
    "Standing",
    "Stretch",
    "engine_for",
    "measure_moves",
]

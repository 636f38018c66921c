"""How far everything that moves stays from everything that stands, proved between samples."""

from pathsim.clearance.engine import Engine, MoveMeasure, Span
from pathsim.clearance.measure import MoveClearance, PairClearance, measure_moves
from pathsim.clearance.records import Clearance, LeftOut
from pathsim.clearance.reference import ReferenceEngine
from pathsim.clearance.rules import Standing, Stretch

__all__ = [
    "Clearance",
    "Engine",
    "LeftOut",
    "MoveClearance",
    "MoveMeasure",
    "PairClearance",
    "ReferenceEngine",
    "Span",
    "Standing",
    "Stretch",
    "measure_moves",
]

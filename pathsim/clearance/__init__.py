"""How far everything that moves stays from everything that stands, proved between samples."""

from pathsim.clearance.contact_rules import Stretch
from pathsim.clearance.engine import Engine, MoveMeasure, PairQuery, Span
from pathsim.clearance.engine_choice import SharedCache, engine_for
from pathsim.clearance.measure import measure_moves
from pathsim.clearance.move_clearance import MoveClearance
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.pair_table import PairClearance
from pathsim.clearance.records import Clearance, LeftOut
from pathsim.clearance.reference.engine import ReferenceEngine

__all__ = [
    "Clearance",
    "Engine",
    "LeftOut",
    "MoveClearance",
    "MoveMeasure",
    "Obstacle",
    "PairClearance",
    "PairQuery",
    "ReferenceEngine",
    "SharedCache",
    "Span",
    "Stretch",
    "engine_for",
    "measure_moves",
]

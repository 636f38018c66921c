"""A cell whose first move breaks off half way, and whose second starts from its taught end."""

import dataclasses
from pathlib import Path

import numpy as np

import pathsim
from pathsim.model import Move, MoveKind, Point, Program
from pathsim.transforms import frozen

SAMPLES = Path(__file__).parents[2] / "sample_cells"


def broken_off():
    """Straight through the wrist's own axis joint 4 would have to leap."""
    cell = pathsim.load_cell(SAMPLES / "gate_hinge")
    taught = {
        "home": [0.0, 0.2, 0.3, 0.0, 0.4, 0.0],
        "end": [0.0, 0.25, 0.2, 0.0, -0.3, 0.0],
        "away": [0.3, 0.1, 0.1, 0.0, -0.9, 0.0],
    }
    points = {name: Point(name, frozen(np.array(q)), None) for name, q in taught.items()}
    moves = (Move(MoveKind.LINEAR, "end", 0.1), Move(MoveKind.JOINT, "away", 0.2))
    return dataclasses.replace(cell, points=points, program=Program("home", moves))

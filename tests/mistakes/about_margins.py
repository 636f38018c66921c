"""Margins: what is asked for, and what is not kept."""

from pathsim.findings import Level
from tests.mistakes.case import Harmless, Mistake, swap

MISTAKES = [
    Mistake(
        "the margin on seams is more than the nozzle has",
        "gate_hinge",
        swap("seam: 1.5 mm", "seam: 5 mm"),
        Level.WATCH,
        ("nozzle", "gate post", "margin 5 mm"),
        both_engines=True,
    ),
]
HARMLESS = [
    Harmless("a little more margin in the air", "gate_hinge", swap("air: 10 mm", "air: 12 mm")),
]

"""How fast a woven seam is laid: knots a second, and which step takes which share.

    python -m tests.benchmarks.motion_speed

A straight seam of 60 s, 300 mm at 5 mm/s, woven at 5 cycles a second, best of five.
"""

from __future__ import annotations

import time

from pathsim.arm import inverse
from pathsim.model import Pattern, Weave
from pathsim.motion import cartesian, plan_program
from tests.builders import seam
from tests.motion.test_seams import seam_cell


class Clock:
    """Adds up the seconds spent in a function."""

    def __init__(self, owner, name):
        self.seconds, self._owner, self._name = 0.0, owner, name
        self._whole = getattr(owner, name)

    def __enter__(self):
        def timed(*args, **kwargs):
            start = time.perf_counter()
            try:
                return self._whole(*args, **kwargs)
            finally:
                self.seconds += time.perf_counter() - start

        setattr(self._owner, self._name, timed)
        return self

    def __exit__(self, *_):
        setattr(self._owner, self._name, self._whole)


def main():
    for pattern in (Pattern.SINE, Pattern.ZIGZAG, Pattern.EIGHT):
        cell = seam_cell({"end": (0.3, 0, 0)}, [seam("end", 0.005)],
                         Weave("w", pattern, 0.002, 5.0))  # fmt: skip
        plan_program(cell)
        best, shares = float("inf"), ()
        for _ in range(5):
            with (
                Clock(inverse.ClosedForm, "solve") as solving,
                Clock(cartesian.CartesianMotion, "flange") as path,
            ):
                start = time.perf_counter()
                trajectory = plan_program(cell)
                whole = time.perf_counter() - start
            if whole < best:
                best, shares = whole, (solving.seconds, path.seconds)
        knots = len(trajectory.t)
        solved, ideal = (100 * s / best for s in shares)
        print(f"{pattern}: {knots} knots in {best:.3f} s, {knots / best:.0f} a second; ", end="")
        print(f"inverse {solved:.0f} %, path and weave {ideal:.0f} %, the rest "
              f"{100 - solved - ideal:.0f} %")  # fmt: skip


if __name__ == "__main__":
    main()

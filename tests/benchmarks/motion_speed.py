"""How fast a woven seam is laid: knots a second, and which step takes which share.

    python -m tests.benchmarks.motion_speed

A straight seam of 60 s, 300 mm at 5 mm/s, woven at 5 cycles a second, best of five: by the plain
code, and by the kernel, which has path, weave and inverse in one.
"""

from __future__ import annotations

import time

from pathsim.arm import inverse
from pathsim.model import Pattern, Weave
from pathsim.motion import cartesian, plan_program
from pathsim.motion import fast_knots as fast_laying
from tests.benchmarks.clearance_peers import plain_code
from tests.benchmarks.clock import Clock
from tests.builders import seam
from tests.motion.seam_cells import seam_cell


def laid(cell, **steps):
    """Seconds of the best of five, how many knots, and the share of each step."""
    plan_program(cell)
    best, shares, knots = float("inf"), {}, 0
    for _ in range(5):
        clocks = {name: Clock(*where) for name, where in steps.items()}
        for clock in clocks.values():
            clock.__enter__()
        start = time.perf_counter()
        trajectory = plan_program(cell)
        whole = time.perf_counter() - start
        for clock in clocks.values():
            clock.__exit__()
        if whole < best:
            shares = {name: clock.seconds / whole for name, clock in clocks.items()}
            best, knots = whole, len(trajectory.t)
    return best, knots, shares


def main():
    for pattern in (Pattern.SINE, Pattern.ZIGZAG, Pattern.EIGHT):
        cell = seam_cell({"end": (0.3, 0, 0)}, [seam("end", 0.005)],
                         Weave("w", pattern, 0.002, 5.0))  # fmt: skip
        with plain_code():
            ways = {"plain code": laid(cell, inverse=(inverse.ClosedForm, "solve"),
                                       path=(cartesian.CartesianMotion, "flange"))}  # fmt: skip
        ways["kernel"] = laid(cell, kernel=(fast_laying, "lay_knots"))
        for way, (seconds, knots, shares) in ways.items():
            each = ", ".join(f"{name} {share:.0%}" for name, share in shares.items())
            print(f"{pattern}, {way}: {knots} knots in {1e3 * seconds:.1f} ms, "
                  f"{knots / seconds:.0f} a second; {each}")  # fmt: skip


if __name__ == "__main__":
    main()

"""How the work of a whole check grows with a cell, in counts that no machine changes."""

import pytest

from pathsim.check import check
from pathsim.geometry.triangle_grid import TriangleGrid
from tests.benchmarks.clearance_scenes import SIDES, eight_moves, finer, triangles
from tests.benchmarks.whole_check import GROWTH, exponent, taken

#: Powers of the size that counts may grow by. Cables lie beside each other: more of them are near
#: each body, so that there is more than in proportion to bound.
ALLOWED = {
    "moves": {"questions": 1.05, "nodes": 1.1, "intervals": 1.1},
    "bodies": {"questions": 1.05, "nodes": 1.1, "intervals": 1.1},
    "seams": {"questions": 1.05, "nodes": 1.1},
    "cables": {"questions": 1.15, "nodes": 1.3, "intervals": 1.1},
}


@pytest.mark.parametrize("what", GROWTH)
def test_work_grows_at_most_in_proportion(what):
    make, first, last = GROWTH[what]
    small, large = taken(make(first)).counts, taken(make(last)).counts
    for count, most in ALLOWED[what].items():
        grown = exponent(small[count], large[count], first, last)
        assert grown <= most, f"{count} grow with {what} to the power of {grown:.2f}"


def test_what_is_looked_at_beside_a_seam_grows_as_a_cut_does(monkeypatch):
    """By the square root of the triangles: those along a line. All of them would be 1."""
    looked: list[int] = []

    def counted(of):
        def told(*asked):
            for which, some in of(*asked):
                looked.append(len(some))
                yield which, some

        return told

    for name in ("meeting", "crossing", "triangles_in", "cells_beyond"):
        monkeypatch.setattr(TriangleGrid, name, counted(getattr(TriangleGrid, name)))
    sizes, counts = [], []
    for side in (SIDES["20k"], SIDES["200k"]):
        cell = finer(eight_moves(), side)
        looked.clear()
        check(cell)
        sizes.append(triangles(cell))
        counts.append(sum(looked))
    grown = exponent(*counts, *sizes)
    print(counts, sizes, grown)
    assert counts[0] > 1000
    assert grown <= 0.65, f"with triangles to the power of {grown:.2f}"

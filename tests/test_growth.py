"""How the work of a whole check grows with a cell, in counts that no machine changes."""

import pytest

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

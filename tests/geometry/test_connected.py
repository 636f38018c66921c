"""Connected components, against an independent library."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pathsim.geometry.connected import connected


def expected(rows, columns, n):
    """Lowest node of each component, by the library."""
    graph = coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(n, n))
    _, labels = connected_components(graph, directed=False)
    lowest = np.full(labels.max() + 1, n)
    np.minimum.at(lowest, labels, np.arange(n))
    return lowest[labels]


@given(st.integers(1, 40).flatmap(
    lambda n: st.tuples(st.just(n), st.lists(st.tuples(*[st.integers(0, n - 1)] * 2), max_size=80))
))  # fmt: skip
def test_any_graph(case):
    n, edges = case
    rows, columns = np.array(edges, dtype=np.int64).reshape(-1, 2).T
    np.testing.assert_array_equal(connected(rows, columns, n), expected(rows, columns, n))


@pytest.mark.parametrize("seed", range(3))
def test_long_ways_and_many_edges(seed):
    """A way through all nodes in any order is the longest that labels can have to go."""
    rng = np.random.default_rng(seed)
    n = 20_000
    way = rng.permutation(n)
    np.testing.assert_array_equal(connected(way[:-1], way[1:], n), 0)
    rows, columns = rng.integers(0, n, (2, n // 2))
    np.testing.assert_array_equal(connected(rows, columns, n), expected(rows, columns, n))


def test_no_edges():
    none = np.zeros(0, dtype=np.int64)
    np.testing.assert_array_equal(connected(none, none, 3), [0, 1, 2])

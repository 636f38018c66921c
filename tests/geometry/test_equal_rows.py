"""Equal rows, against numpy's own way; and numbers that come out equal by chance."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from pathsim.geometry import equal_rows
from pathsim.geometry.equal_rows import first_equal

whole = st.integers(-3, 3) | st.integers(-(2**62), 2**62)


def by_numpy(rows):
    _, first, kind = np.unique(rows, axis=0, return_index=True, return_inverse=True)
    return np.sort(first), first[kind.reshape(-1)]


@settings(max_examples=200)
@given(arrays.arrays(np.int64, st.tuples(st.integers(1, 40), st.just(3)), elements=whole))
def test_the_first_of_each_kind_is_found(rows):
    first, like = first_equal(rows)
    due_first, due_like = by_numpy(rows)
    assert (np.sort(first) == due_first).all() and (like == due_like).all()


def test_rows_with_one_number_by_chance_stay_apart(monkeypatch):
    monkeypatch.setattr(equal_rows, "_FACTORS", np.ones(3, np.uint64))
    rows = np.array([[1, 2, 3], [3, 2, 1], [1, 2, 3], [0, 0, 6]])
    first, like = first_equal(rows)
    assert sorted(first.tolist()) == [0, 1, 3] and like.tolist() == [0, 1, 0, 3]

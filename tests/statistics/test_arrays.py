"""Numbering of keys, against numpy's own."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from gearing.statistics.arrays import distinct

RUNS = st.lists(st.tuples(st.integers(-(2**62), 2**62), st.integers(1, 5)), max_size=30)


@given(RUNS)
def test_distinct_keys_are_numbered_as_numpy_numbers_them(runs: list[tuple[int, int]]) -> None:
    keys = np.array([key for key, length in runs for _ in range(length)], dtype=np.int64)
    found, number = distinct(keys)
    expected, inverse = np.unique(keys, return_inverse=True)
    assert found.tolist() == expected.tolist()
    assert number.tolist() == inverse.tolist()

"""Stretches of time against sets of whole microseconds."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pipeline.measure.intervals import Stretches, joined

ANY = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 12)), max_size=8)


def made(pairs: list[tuple[int, int]]) -> tuple[Stretches, set[int]]:
    begins = np.array([begin for begin, _ in pairs], dtype=np.int64)
    stops = np.array([begin + length for begin, length in pairs], dtype=np.int64)
    return joined(begins, stops), {at for begin, length in pairs for at in range(begin, begin + length)}


def points(stretches: Stretches) -> set[int]:
    return {at for begin, stop in zip(stretches.begins, stretches.stops, strict=True) for at in range(begin, stop)}


@given(ANY, ANY, st.integers(0, 4))
def test_they_are_what_sets_are(one: list[tuple[int, int]], other: list[tuple[int, int]], wide: int) -> None:
    (a, in_a), (b, in_b) = made(one), made(other)
    assert points(a) == in_a
    assert bool((a.begins[1:] > a.stops[:-1]).all())  # apart, not even touching
    assert points(a.common(b)) == in_a & in_b
    assert a.length_us == len(in_a)
    grown = {at + shift for at in in_a for shift in range(-wide, wide + 1)}
    assert points(a.widened(wide)) == grown
    for at in range(-1, 75):
        assert a.holds(at) == (at in in_a)
        assert a.ends_by(at) == (at - 1 in in_a)

"""Ranges of stamps between which lines are looked for: few, and none of what was asked for is left out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from pipeline.render.shown import Range, few_ranges

START = datetime(2031, 3, 1, tzinfo=UTC)


def at(*minutes: int) -> list[Range]:
    return [
        (START + timedelta(minutes=first), START + timedelta(minutes=last))
        for first, last in zip(minutes[::2], minutes[1::2], strict=True)
    ]


def test_what_meets_is_one_range_and_the_order_does_not_matter() -> None:
    assert few_ranges([*at(30, 40), *at(0, 10), *at(10, 12), *at(5, 6)]) == at(0, 12, 30, 40)


def test_the_least_gaps_are_closed_where_there_would_be_too_many() -> None:
    # Gaps of 8, 2 and 30 minutes: with three ranges the one of 2 is closed, with two also that of 8.
    bounds = at(0, 10, 18, 20, 22, 30, 60, 70)
    assert few_ranges(bounds, 3) == at(0, 10, 18, 30, 60, 70)
    assert few_ranges(bounds, 2) == at(0, 30, 60, 70)
    assert few_ranges(bounds, 1) == at(0, 70)


def test_nothing_asked_for_is_no_range() -> None:
    assert few_ranges([]) == []


@given(st.lists(st.tuples(st.integers(0, 500), st.integers(0, 60)), min_size=1), st.integers(1, 6))
def test_every_bound_lies_in_one_of_at_most_so_many(spans: list[tuple[int, int]], most: int) -> None:
    bounds = [at(first, first + length)[0] for first, length in spans]
    ranges = few_ranges(bounds, most)
    assert len(ranges) <= most
    assert all(any(first <= one and other <= last for first, last in ranges) for one, other in bounds)
    assert all(earlier[1] < later[0] for earlier, later in pairwise(ranges))

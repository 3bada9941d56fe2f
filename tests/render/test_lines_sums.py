"""Sums by day or month: exact, parted at the bounds, nothing lost; worked by hand beside each check."""

from __future__ import annotations

from datetime import datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from pipeline.render.lines_sums import Bound, Sum, sums

MARCH = datetime.fromisoformat("2031-03-01T05:00")
DAYS = [Bound(f"2031-03-{day:02}", MARCH + timedelta(days=day - 1)) for day in range(1, 6)]


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime.fromisoformat(f"2031-03-{day:02}T{hour:02}:{minute:02}")


def test_a_stretch_over_a_bound_is_parted_there() -> None:
    # 4:00 to 6:30 with the day beginning at 5:00: one hour in the day before, an hour and a half in the next.
    stretch = (at(2, 4), at(2, 6, 30), 9_000 * 1_000_000)
    assert sums([stretch], DAYS, is_time=True) == [
        Sum("2031-03-01", 3_600_000_000, 1),
        Sum("2031-03-02", 5_400_000_000, 1),
    ]


def test_a_stretch_over_several_bounds_has_whole_days_between() -> None:
    # 1 March 23:00 to 4 March 06:00 is 6 h + 24 h + 24 h + 1 h = 55 h.
    parts = sums([(at(1, 23), at(4, 6), 55 * 3_600_000_000)], DAYS, is_time=True)
    assert [part.amount // 3_600_000_000 for part in parts] == [6, 24, 24, 1]


def test_a_stretch_that_ends_at_a_bound_has_no_part_behind_it() -> None:
    assert sums([(at(1, 23), at(2, 5), 6 * 3_600_000_000)], DAYS, is_time=True) == [
        Sum("2031-03-01", 21_600_000_000, 1)
    ]


def test_what_is_less_than_its_own_length_counts_where_it_begins() -> None:
    # Lost 5 s within an event of 2 h: there is no telling which part lost them.
    assert sums([(at(2, 4), at(2, 6), 5_000_000)], DAYS, is_time=True) == [Sum("2031-03-01", 5_000_000, 1)]


def test_counts_stand_where_they_begin_and_empty_days_are_left_out() -> None:
    events = [(at(1, 12), at(3, 12), 1), (at(4, 4), None, 1), (at(4, 5), None, 1)]
    assert sums(events, DAYS, is_time=False) == [
        Sum("2031-03-01", 1, 1), Sum("2031-03-03", 1, 1), Sum("2031-03-04", 1, 1)
    ]  # fmt: skip


def test_what_lies_before_or_after_all_bounds_is_not_lost() -> None:
    events = [(MARCH - timedelta(days=400), None, 1), (MARCH + timedelta(days=400), None, 1)]
    assert [part.name for part in sums(events, DAYS, is_time=False)] == ["2031-03-01", "2031-03-05"]


def test_without_bounds_there_is_no_sum() -> None:
    assert sums([(at(1, 12), None, 1)], [], is_time=False) == []


@given(
    st.lists(
        st.tuples(
            st.datetimes(at(1, 0), at(8, 0)),
            st.timedeltas(timedelta(0), timedelta(days=4)),
            st.booleans(),
        ),
        max_size=30,
    )
)
def test_the_sums_add_up_to_the_last_microsecond(drawn: list[tuple[datetime, timedelta, bool]]) -> None:
    amounts = [
        (began, began + length, length // timedelta(microseconds=1) if is_whole else 7)
        for began, length, is_whole in drawn
    ]
    parts = sums(amounts, DAYS, is_time=True)
    assert sum(part.amount for part in parts) == sum(amount for _, _, amount in amounts)
    assert all(part.amount >= 0 for part in parts)

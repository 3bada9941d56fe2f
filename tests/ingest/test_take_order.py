"""Equal takes: worked examples, and a search of all orders as the reference."""

from __future__ import annotations

from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.take_order import Take, order_takes

HEADER = "at,action,channel,from_machine,to_machine,reason,by\n"


def _order(pairs: str, last: str | None) -> str:
    takes = sorted((Take(pair[0], pair[1]) for pair in pairs.split()), key=lambda take: (take.came_from, take.went_to))
    return " ".join(f"{take.came_from}{take.went_to}" for take in order_takes(takes, last))


@pytest.mark.parametrize(
    ("pairs", "last", "expected"),
    [
        ("BC AB", "A", "AB BC"),
        ("SB AS", "A", "AS SB"),
        ("AB BA AC", "A", "AB BA AC"),  # AC first would leave no chain
        ("AB AC CA", "A", "AC CA AB"),
        ("AB AC", "A", "AB AC"),  # no chain of both: the first that fits, then what is left
        ("BC AB", None, "AB BC"),  # no earlier take: the chain of all begins at A
        ("BC AB", "X", "AB BC"),
        ("CD AB", "C", "CD AB"),
        ("BA AB", "B", "BA AB"),
        ("BA AB", None, "AB BA"),
    ],
)
def test_worked_examples(pairs: str, last: str | None, expected: str) -> None:
    assert _order(pairs, last) == expected


SOURCE = st.sampled_from("ABC")


@settings(deadline=None)
@given(st.lists(st.tuples(SOURCE, SOURCE), min_size=2, max_size=6), SOURCE | st.none())
def test_a_chain_of_all_is_found_where_any_order_gives_one(pairs: list[tuple[str, str]], last: str | None) -> None:
    takes = [Take(came_from, went_to) for came_from, went_to in sorted(pairs)]
    ordered = order_takes(takes, last)
    assert sorted(ordered, key=lambda take: (take.came_from or "", take.went_to)) == takes
    chains = [order for order in permutations(takes) if all(a.went_to == b.came_from for a, b in pairwise(order))]
    from_last = [order for order in chains if order[0].came_from == last]
    if from_last:
        assert tuple(ordered) == min(from_last, key=lambda order: [(t.came_from, t.went_to) for t in order])
    elif chains:
        assert tuple(ordered) in chains


def test_thousands_of_equal_takes_cost_no_long_wait() -> None:
    takes = sorted((Take("A", "B") for _ in range(20_000)), key=lambda take: take.went_to)
    takes += [Take("B", "A") for _ in range(20_000)]
    ordered = order_takes(takes, "A")
    assert len(ordered) == 40_000
    assert all(a.went_to == b.came_from for a, b in pairwise(ordered))


def test_a_take_that_says_not_where_it_came_from_is_ranked_too(site) -> None:
    at = "2031-03-01T20:10:00"
    site.write("switches.csv", f"{HEADER}{at},take,One,,C,,\n{at},take,One,A,B,,\n")
    site.load()
    assert [row["line"] for row in site.rows("select * from raw_take_order order by tie_rank")] == [3, 2]


def test_ranks_in_the_database_do_not_depend_on_the_order_of_lines(site) -> None:
    rows = [
        "2031-03-01T20:09:00,take,One,X,A,,",
        "2031-03-01T20:10:00,take,One,B,C,,",
        "2031-03-01T20:10:00,take,One,A,B,,",
        "2031-03-01T20:10:00,take,Two,Q,R,,",
        "2031-03-01T20:10:00,start,One,,B,,",
        "2031-03-01T20:10:00,take,One,A,B,,",
        "2031-03-01T20:11:00,take,One,C,A,,",
    ]
    seen = set()
    for order in (rows, rows[::-1], rows[3:] + rows[:3]):
        site.write("switches.csv", HEADER + "\n".join(order) + "\n")
        site.load()
        ranked = "from raw_take_order join raw_switches using (file, line) order by tie_rank"
        sql = f"select tie_rank, from_machine, to_machine {ranked}"
        seen.add(tuple(tuple(row.values()) for row in site.rows(sql)))
    assert seen == {((1, "A", "B"), (2, "B", "C"))}

"""Tickets to events: the most matches first, the least total time apart second, and never a row order."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, permutations

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.measure.matching import best_matches, match_tickets
from pipeline.store import Store
from tests.model.room_tables import open_memory

Offer = tuple[str, int, float]


@pytest.fixture
def store() -> Iterator[Store]:
    with open_memory() as opened:
        yield opened


def test_as_many_matches_as_possible_beat_the_least_total() -> None:
    """A fits both events, B only the first. A with 1 alone costs 1 s; two matches cost 5,000 + 9,000 s and win."""
    offers = [("A", 1, 1.0), ("A", 2, 9000.0), ("B", 1, 5000.0)]
    assert sorted(best_matches(offers)) == [("A", 2, 9000.0), ("B", 1, 5000.0)]


def test_of_equally_many_the_least_total_and_not_the_nearest_first() -> None:
    """Nearest first takes A–1 (10 s) and leaves B–2 (100 s): 110 s. The other way round is 20 + 30 = 50 s."""
    offers = [("A", 1, 10.0), ("A", 2, 20.0), ("B", 1, 30.0), ("B", 2, 100.0)]
    assert sorted(best_matches(offers)) == [("A", 2, 20.0), ("B", 1, 30.0)]


def test_what_stays_over_is_left_out_on_either_side() -> None:
    """Three tickets for one event: the nearest. One ticket for two events: the nearest."""
    assert best_matches([("A", 1, 30.0), ("B", 1, 20.0), ("C", 1, 25.0)]) == [("B", 1, 20.0)]
    assert best_matches([("A", 1, 30.0), ("A", 2, 20.0)]) == [("A", 2, 20.0)]
    assert best_matches([]) == []


def test_a_gap_of_nothing_is_still_a_match() -> None:
    """Opened on the second of the onset: 0 s apart, which must not read as no offer."""
    assert best_matches([("A", 1, 0.0), ("B", 2, 0.0)]) == [("A", 1, 0.0), ("B", 2, 0.0)]


def test_assignment_example_of_scipy() -> None:
    """scipy.optimize.linear_sum_assignment, documentation example: costs [[4, 1, 3], [2, 0, 5], [3, 2, 2]], sum 5.

    The assignment printed there is columns 1, 0, 2.
    """
    cost = [[4, 1, 3], [2, 0, 5], [3, 2, 2]]
    offers = [(f"T{row}", column, float(cost[row][column])) for row in range(3) for column in range(3)]
    matches = sorted(best_matches(offers))
    assert [event for _, event, _ in matches] == [1, 0, 2]
    assert sum(gap for _, _, gap in matches) == 5


@st.composite
def some_offers(draw: st.DrawFn) -> list[Offer]:
    """Up to four tickets and four events, any pairs of them, with whole gaps among which ties are common."""
    pairs = st.tuples(st.sampled_from("ABCD"), st.integers(1, 4))
    gaps = draw(st.dictionaries(pairs, st.integers(0, 9), max_size=12))
    return [(ticket, event, float(gap)) for (ticket, event), gap in gaps.items()]


def by_trying_all(offers: list[Offer]) -> tuple[int, float]:
    """Number and total gap of the best one-to-one choice, by trying every one."""
    gaps = {(ticket, event): gap for ticket, event, gap in offers}
    tickets = sorted({ticket for ticket, _ in gaps})
    events = sorted({event for _, event in gaps})
    best = (0, 0.0)
    for count in range(1, min(len(tickets), len(events)) + 1):
        for chosen in combinations(tickets, count):
            for order in permutations(events, count):
                pairs = list(zip(chosen, order, strict=True))
                if all(pair in gaps for pair in pairs):
                    found = (count, sum(gaps[pair] for pair in pairs))
                    best = min(best, found, key=lambda each: (-each[0], each[1]))
    return best


@settings(max_examples=150, deadline=None, derandomize=True)
@given(offers=some_offers())
def test_as_good_as_trying_every_choice(offers: list[Offer]) -> None:
    matches = best_matches(offers)
    assert set(matches) <= set(offers)
    assert len({ticket for ticket, _, _ in matches}) == len(matches) == len({event for _, event, _ in matches})
    assert (len(matches), sum(gap for _, _, gap in matches)) == by_trying_all(offers)


def test_the_order_of_offers_decides_nothing(store: Store) -> None:
    """Both ways to match cost 20 s; written in any order, the same one is chosen."""
    offers = [("A", 1, 10.0), ("A", 2, 10.0), ("B", 1, 10.0), ("B", 2, 10.0)]
    chosen = set()
    for order in permutations(offers):
        frame = pl.DataFrame(list(order), schema=["ticket", "recovery_no", "gap_s"], orient="row")
        store.write("core_ticket_offers", frame)
        chosen.add(tuple(match_tickets(store).rows()))
    assert len(chosen) == 1


def test_matches_are_written_and_none_is_an_empty_table(store: Store) -> None:
    schema = {"ticket": pl.String, "recovery_no": pl.Int64, "gap_s": pl.Float64}
    store.write("core_ticket_offers", pl.DataFrame([("A", 7, 12.5)], schema=schema, orient="row"))
    assert match_tickets(store).rows() == [("A", 7, 12.5)]
    assert store.read("select ticket, recovery_no, gap_s from measure_ticket_matches").rows() == [("A", 7, 12.5)]
    store.write("core_ticket_offers", pl.DataFrame(schema=schema))
    assert match_tickets(store).rows() == []
    assert store.value("select count(*) from measure_ticket_matches") == 0


def test_a_month_of_tickets_on_one_machine_stays_small() -> None:
    """200 events 1,000 s apart, each with a ticket opened 60 s later, all within reach of their neighbours.

    Every ticket belongs to its own event: 200 matches at 60 s, for any swap of two costs more.
    """
    near = range(-3, 4)
    offers = [(f"T{n:03d}", n + d, float(abs(60 - 1000 * d))) for n in range(200) for d in near if 0 <= n + d < 200]
    shuffled = [offers[place] for place in np.random.default_rng(1).permutation(len(offers))]
    assert sorted(best_matches(shuffled)) == [(f"T{n:03d}", n, 60.0) for n in range(200)]

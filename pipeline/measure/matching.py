"""Give each ticket to the event it is about: as many matches as possible, then the least total time apart.

The models list which tickets fit which events (``core_ticket_offers``); here the best one-to-one choice is made, over
each connected set of tickets and events on its own, so that the work stays small.
"""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pipeline.store import Store

SCHEMA = {"ticket": pl.String, "recovery_no": pl.Int64, "gap_s": pl.Float64}


def match_tickets(store: Store) -> pl.DataFrame:
    """Write and return ``measure_ticket_matches`` (grain: one matched ticket): ticket, recovery_no, gap_s.

    Reads ``core_ticket_offers``. Every ticket and every event appears at most once. Among the largest sets of matches
    the one with the least total ``gap_s`` (seconds between onset and opening) is taken. Of equal sums one is taken that
    does not depend on the order of rows.
    """
    offers = store.read("select ticket, recovery_no, gap_s from core_ticket_offers order by ticket, recovery_no")
    matches = pl.DataFrame(best_matches(offers.rows()), schema=SCHEMA, orient="row").sort("ticket")
    store.write("measure_ticket_matches", matches)
    return matches


def best_matches(offers: list[tuple[str, int, float]]) -> list[tuple[str, int, float]]:
    """The largest one-to-one choice of ``offers`` (ticket, event, gap in seconds) with the least total gap."""
    if not offers:
        return []
    tickets = {ticket: row for row, ticket in enumerate(sorted({offer[0] for offer in offers}))}
    events = {event: column for column, event in enumerate(sorted({offer[1] for offer in offers}))}
    rows = np.array([tickets[offer[0]] for offer in offers])
    columns = np.array([events[offer[1]] for offer in offers])
    size = len(tickets) + len(events)
    graph = coo_array((np.ones(len(offers)), (rows, columns + len(tickets))), shape=(size, size))
    _, component = connected_components(graph, directed=False)
    chosen: list[tuple[str, int, float]] = []
    parts = component[rows]
    for part in np.unique(parts):
        chosen.extend(_best_in_part([offers[place] for place in np.flatnonzero(parts == part)]))
    return chosen


def _best_in_part(offers: list[tuple[str, int, float]]) -> list[tuple[str, int, float]]:
    tickets = sorted({offer[0] for offer in offers})
    events = sorted({offer[1] for offer in offers})
    gaps = {(ticket, event): gap for ticket, event, gap in offers}
    # A cell that is no offer costs more than all offers together, so the most matches always win.
    unmatched = sum(gaps.values()) + 1.0
    cost: NDArray[np.float64] = np.full((len(tickets), len(events)), unmatched)
    for (ticket, event), gap in gaps.items():
        cost[tickets.index(ticket), events.index(event)] = gap
    rows, columns = linear_sum_assignment(cost)
    pairs = [(tickets[row], events[column]) for row, column in zip(rows, columns, strict=True)]
    return [(ticket, event, gaps[ticket, event]) for ticket, event in pairs if (ticket, event) in gaps]

"""Holds every edge of a group's lines against the instants that the rows named for it bear."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime, timedelta

from pipeline.evidence import Scope
from tests.evidence.rooms import Room

Place = tuple[str, int]


def bearing(room: Room) -> dict[Place, set[datetime]]:
    """The instants that each row bears: its own, corrected where the machine's clock is; a booking's also with lead."""
    lead = timedelta(seconds=room.store.value("select lead_s from site_settings"))
    found: defaultdict[Place, set[datetime]] = defaultdict(set)
    for file, line, at in room.store.read("select file, line, at_utc from core_events").iter_rows():
        found[file, line].add(at)
    for file, line, at in room.store.read("select file, line, at_utc from clean_switches").iter_rows():
        found[file, line].add(at)
    bookings = room.store.read("select file, line, started_at_utc, ended_at_utc from clean_bookings")
    for file, line, began, ended in bookings.iter_rows():
        found[file, line] |= {began, ended, began - lead}
    tickets = room.store.read("select file, line, opened_at_utc, restored_at_utc, closed_at_utc from clean_tickets")
    for file, line, *instants in tickets.iter_rows():
        found[file, line] |= {at for at in instants if at is not None}
    if room.store.has("clean_rulings"):
        for file, line, began, ended in room.store.read(
            "select file, line, at_utc, until_utc from clean_rulings"
        ).iter_rows():
            found[file, line] |= {began, ended}
    return found


def check_edges(room: Room, scope: Scope, *, further: bool = False) -> int:
    """Every edge of every figure of the group, or of what there is of it beside those; returns how many."""
    bears = bearing(room)
    silence_s, carry_s = room.store.read("select silence_s, carry_s from site_settings").row(0)
    months = set(room.store.read("select started_at_utc from site_months")["started_at_utc"])
    waits = {"for the silence": timedelta(seconds=silence_s), "for the carry": timedelta(seconds=carry_s)}
    count = 0
    for figure in room.evidence.further_figures(scope) if further else room.evidence.figures(scope):
        if figure.startswith("rows."):  # rows themselves, which have no edges
            continue
        items = room.evidence.lines(figure, scope).items
        sources = room.evidence.sources(items)
        proofs: defaultdict[tuple[int, str], list[tuple[Place | None, timedelta]]] = defaultdict(list)
        for item, side, file, line, text, why in sources.iter_rows():
            assert why
            assert (text is None) == (file is None)
            wait = next((wait for words, wait in waits.items() if words in why), timedelta())
            proofs[item, side].append((None if file is None else (file, line), wait))
        for item in items.iter_rows(named=True):
            for side, column in (("begins", "started_at_utc"), ("ends", "ended_at_utc")):
                at = item[column]
                if at is None:
                    continue
                count += 1
                rows = proofs[item["item"], side]
                assert rows, (figure, item)
                assert at in months or None not in dict(rows), (figure, item)
                for row, wait in rows:
                    is_open_ticket = item["kind"] == "to service" and side == "ends" and "cut short" in item["what"]
                    assert row is None or is_open_ticket or at - wait in bears[row], (figure, item, row)
    return count

"""One page a machine: what it did, every event with its incident, its tickets, care, heads, clock and recordings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from pipeline.render.cause_names import cause_text
from pipeline.render.history_machine_words import HOUR, Machine, how_word, not_known, opening
from pipeline.render.index import period
from pipeline.render.language import say
from pipeline.render.page_weight import fitting, text_bytes
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.table_words import source_word
from pipeline.render.transports.parts_numbers import kind_word
from pipeline.render.words import within
from pipeline.statistics import poisson_limits

MOST_EVENTS = 200
MOST_TICKETS = 100
MOST_LIVES = 60
MOST_REELS = 24
MOST_BYTES = 120_000  # of each table; four of them and what is short stay below 500 kB
ROW_BYTES = 900  # of a row without its texts
Grouped = Mapping[str, Rows]


def machine_sheets(reading: Reading) -> Iterator[Sheet]:
    """One sheet a machine of the register or with a figure, in order of name."""
    rows = {name: grouped(reading.site[name], "machine") for name in TABLES}
    rows["left"] = grouped(reading.parts, "machine")
    rows["taken"] = grouped(reading.parts, "to_machine")
    rows["recorded"] = grouped(reading.site["reels"], "recorded_on")
    unlabelled = sum(reel["recorded_on"] is None for reel in reading.site["reels"])
    for name, page in reading.links.machines.items():
        own = {table: by_machine.get(name, []) for table, by_machine in rows.items()}
        yield _sheet(reading, page, own | {"name": name, "unlabelled": unlabelled})


TABLES = ("register", "machine_months", "tickets", "machine_care", "machine_bookings", "machine_parts", "no_lock")


def grouped(rows: Iterable[Row], name: str) -> Grouped:
    """The rows by the value of a column; those without one in no group."""
    groups: dict[str, Rows] = {}
    for row in rows:
        if row[name] is not None:
            groups.setdefault(row[name], []).append(row)
    return groups


def _sheet(reading: Reading, page: str, own: Mapping[str, Any]) -> Sheet:
    one = machine_of(reading, own)
    found = reading.figures["transports"]
    context = {
        "one": one,
        "told": opening(one, period(reading.figures), reading.local, found["rates"]["level"]),
        "months": [with_limits(row) for row in one.months],
        "events": latest(own["left"], MOST_EVENTS),
        "events_count": len(own["left"]),
        "taken_count": len(own["taken"]),
        "tickets": latest(one.tickets, MOST_TICKETS),
        "adherence": entry_of(found["care"]["adherence"]["machines"], one.name),
        "lives": latest(one.lives, MOST_LIVES),
        "clock": entry_of(reading.figures["clocks"], one.name),
        "recorder": entry_of(found["recording"]["recorders"], one.name),
        "reels": fitting(worst_first(own["recorded"])[:MOST_REELS], MOST_BYTES, row_bytes),
        "reels_count": len(own["recorded"]),
        "hour": HOUR,
        "within": within,
        "source": source_word,
        "cause": cause_text,
        "part_word": kind_word,
        "how_word": how_word,
    }
    return Sheet(
        page, "machine.html.j2", say("Machine {name}", name=one.name), period(reading.figures), context,
        not_known(one, has_no_lock=bool(own["no_lock"]), unlabelled_count=own["unlabelled"]),
    )  # fmt: skip


def machine_of(reading: Reading, own: Mapping[str, Any]) -> Machine:
    """All that is known of one machine; ``own`` are its rows by table, and its name."""
    found, name = reading.figures["transports"], own["name"]
    register = own["register"][0] if own["register"] else None
    pair = register and register["pair"]
    air = next(measure for measure in found["rates"]["measures"] if measure["measure"] == "air")
    return Machine(
        name=name,
        register=register,
        partners=tuple(
            row["machine"] for row in reading.site["register"] if pair and row["pair"] == pair and row is not register
        ),
        entry=entry_of(reading.figures["machines"], name),
        duty=entry_of(found["duty"]["machines"], name),
        rated=entry_of(air["machines"], name),
        months=own["machine_months"],
        tickets=own["tickets"],
        care=own["machine_care"],
        bookings=own["machine_bookings"],
        lives=own["machine_parts"],
    )


def entry_of(entries: Iterable[Mapping[str, Any]], name: str) -> Mapping[str, Any] | None:
    """The entry of a machine in a list of figures.json, or None."""
    return next((entry for entry in entries if entry["machine"] == name), None)


def with_limits(month: Mapping[str, Any]) -> Row:
    """A month of a machine with its protect switches per 1,000 air h and exact 95 % limits (Garwood); None: no air."""
    air_h = month["air_s"] / HOUR
    if air_h <= 0:
        return {**month, "rate": {"value": None, "low": None, "high": None}}
    low, high = poisson_limits(month["switches_count"], air_h)
    value = month["switches_count"] / air_h
    return {**month, "rate": {"value": 1000 * value, "low": 1000 * low, "high": 1000 * high}}


def latest(rows: Sequence[Mapping[str, Any]], most: int) -> Sequence[Mapping[str, Any]]:
    """The last of the rows, newest first: at most so many, and no more than a table may weigh."""
    return fitting(rows[::-1][:most], MOST_BYTES, row_bytes)


def row_bytes(row: Mapping[str, Any]) -> int:
    """What a row weighs on a page at most: its texts, links and a thumbnail."""
    return ROW_BYTES + sum(text_bytes(value) for value in row.values() if isinstance(value, str))


def worst_first(reels: Rows) -> Rows:
    """The reels that were played, those with most faults beyond those expected of their players first, then by id."""
    played = [reel for reel in reels if reel["played_h"]]
    return sorted(played, key=lambda reel: ((reel["expected"] or 0.0) - reel["faults_count"], reel["reel"]))

"""What a case is read from: counts and sums by hand on small tables, and machines booked at once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pipeline.measure.transports.case.measuring import measure_case
from pipeline.measure.transports.case.needs import measure_needs
from pipeline.measure.transports.case.records import Record, read_records, read_span_h, retired
from pipeline.settings import THRESHOLDS, Settings
from pipeline.store import Store

SITE = Settings("Room", "UTC", "00:00", 25.0, sync_tolerance_s=0.04, show_persons=False, costs=None, **THRESHOLDS)
RECOVERIES = """
select * from (values
    (1, 11, 21, 'A'), (2, null, 22, 'A'), (3, 12, null, 'A'), (4, 13, null, 'B'), (5, 14, 23, null)
) as t (recovery_no, interruption_no, switch_no, machine)
"""
# 11: met by protect. 12: healed by itself. 13: neither, so it failed. 14: on standby, of no machine.
INTERRUPTIONS = """
select * from (values
    (11, cast(4.5 as decimal(38, 6)), true, true, false),
    (12, cast(0.5 as decimal(38, 6)), true, false, true),
    (13, cast(30 as decimal(38, 6)), true, false, false),
    (14, cast(60 as decimal(38, 6)), false, false, false)
) as t (interruption_no, lost_s, is_demand, is_met, is_healed)
"""
TICKETS = """
select * from (values
    ('A', 2.0, 100.0, 'tube'), ('A', null, null, null), ('A', 1.5, null, 'belt'), ('D', 9.0, 5.0, 'tube')
) as t (machine, labour_h, parts_cost, part)
"""
MACHINES = """
select * from (values
    ('B', 'kind b', 'P1', 'east', null, 500.0), ('A', 'kind a', 'P1', 'east', null, null),
    ('C', 'kind c', null, 'west', timestamp '2031-06-01', 700.0),
    ('D', 'kind d', 'P2', 'west', timestamp '2030-01-01', 1.0)
) as t (machine, kind, pair, machine_group, retired_at_utc, replacement_cost)
"""
BOOKINGS = """
select * from (values
    ('A', 'air', timestamp '2031-03-01 10:00', timestamp '2031-03-01 12:00'),
    ('A', 'air', timestamp '2031-03-01 11:30', timestamp '2031-03-01 13:00'),
    ('B', 'protect', timestamp '2031-03-01 11:00', timestamp '2031-03-01 12:00'),
    ('C', 'record', timestamp '2031-03-01 12:00', timestamp '2031-03-01 14:00'),
    ('B', 'maintenance', timestamp '2031-03-01 12:30', timestamp '2031-03-01 12:45'),
    ('X', 'dub', timestamp '2031-03-02 10:00', timestamp '2031-03-02 11:00'),
    (null, 'air', timestamp '2031-03-01 10:00', timestamp '2031-03-01 20:00'),
    ('C', 'air', timestamp '2031-03-01 11:00', timestamp '2031-03-01 11:00')
) as t (machine, role, started_at_utc, ended_at_utc)
"""
FIGURES: dict[str, Any] = {
    "machines": [
        {"machine": "A", "air_s": 3600.0, "exposed_s": 1800.0},
        {"machine": "Z", "air_s": 7200.0, "exposed_s": 0.0},
        {"machine": "D", "air_s": 36.0, "exposed_s": 0.0},
    ],
    "transports": {"duty": {"span_h": 2160.0, "machines": [{"machine": "A", "head_h": 2.5}]}},
}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    tables = {
        "core_recoveries": RECOVERIES,
        "core_interruptions": INTERRUPTIONS,
        "clean_tickets": TICKETS,
        "clean_machines": MACHINES,
        "clean_bookings": BOOKINGS,
        "core_as_of": "select timestamp '2031-04-01' as as_of_at_utc",
        "core_heard_spans": "select timestamp '2031-03-01 06:00' as first_at_utc"
        ", timestamp '2031-03-01 06:00' as last_at_utc",
        "core_switches": "select timestamp '2031-03-02 18:00' as at_utc",
    }
    with Store(tmp_path / "room.duckdb") as opened:
        for name, query in tables.items():
            opened.run(f"create table {name} as {query}")
        yield opened


def test_records_by_hand(store: Store) -> None:
    """A: three events, two with a switch; 11 was met, 12 healed, none failed; 4.5 + 0.5 s lost. B: one, failed, 30 s.

    Tickets of A: three, of which two state hours (3.5 h), one a price (100), two name a part or a price.
    """
    records = {record.machine: record for record in read_records(store, FIGURES)}
    assert records["A"] == Record(
        "A", air_h=1.0, exposed_h=0.5, events=3, switches=2, failed=0, healed=1, lost_s=5.0, longest_s=4.5, tickets=3,
        labour_count=2, labour_h=3.5, priced_count=1, parts_cost=100.0, with_part_count=2, head_h=2.5, pair="P1",
        group="east", kind="kind a", replacement_cost=None, in_register=True,
    )  # fmt: skip
    assert (records["B"].events, records["B"].failed, records["B"].lost_s) == (1, 1, 30.0)
    assert (records["B"].air_h, records["B"].head_h, records["B"].tickets) == (0.0, None, 0)


def test_a_part_that_is_priced_by_itself_is_not_counted_twice(store: Store) -> None:
    """Where tubes have a cost of their own, their ticket adds its two hours and not its 100; the belt stays."""
    records = {record.machine: record for record in read_records(store, FIGURES, ["Tube", "tub"])}
    found = records["A"]
    assert (found.labour_h, found.priced_count, found.parts_cost, found.with_part_count) == (3.5, 0, 0.0, 1)
    as_word = {record.machine: record for record in read_records(store, FIGURES, ["tub"])}
    assert as_word["A"].parts_cost == 100.0  # a kind is a word of its own, not a piece of one


def test_the_order_is_that_of_the_register_and_who_is_retired_is_left_out(store: Store) -> None:
    """C retires after the data end, so it stays; D was retired before; Z is in no register."""
    assert [record.machine for record in read_records(store, FIGURES)] == ["A", "B", "C", "Z"]
    assert retired(store) == {"D"}


def test_the_span_is_that_of_the_duty_or_of_the_logs(store: Store) -> None:
    """From 1 March 06:00 to 2 March 18:00 are 36 hours."""
    assert read_span_h(store, FIGURES) == 2160.0
    assert read_span_h(store, {"transports": {}}) == pytest.approx(36.0)


def test_machines_booked_at_once_by_hand(store: Store) -> None:
    """A is booked 10 to 13 in two pieces that overlap and is one machine; B 11 to 12, C 12 to 14, X alone next day.

    At 12:00 B's booking ends as C's begins: never three at once. Two at once from 11 to 13, one 10 to 11, 13 to 14, and
    10 to 11 next day: 2 h of 5 h, so two are needed for 99 %. With B in maintenance 12:30 to 12:45 three are booked.
    East: A and B, two from 11 to 12; west: C, which is the only one there not retired by then.
    """
    found = measure_needs(store)
    room, east, west = found["rooms"]
    assert room == {
        "group": None, "owned_count": 3, "booked_count": 2, "booked_h": pytest.approx(2.0),
        "first_at": "2031-03-01T11:00:00Z", "enough_count": 2, "with_maintenance_count": 3,
    }  # fmt: skip
    assert (east["group"], east["owned_count"], east["booked_count"], east["booked_h"]) == ("east", 2, 2, 1.0)
    assert (west["group"], west["owned_count"], west["booked_count"], west["booked_h"]) == ("west", 1, 1, 2.0)
    assert found["left_out_count"] == 0


def test_short_hand_overs_do_not_count_as_need(store: Store) -> None:
    """One machine for 10 h, two for a minute at the hand-over: one is enough for 99 % of the time."""
    store.run(
        "create or replace table clean_bookings as select * from (values"
        " ('A', 'air', timestamp '2031-03-01 10:00', timestamp '2031-03-01 15:01'),"
        " ('B', 'air', timestamp '2031-03-01 15:00', timestamp '2031-03-01 20:00')"
        ") as t (machine, role, started_at_utc, ended_at_utc)"
    )
    room = measure_needs(store)["rooms"][0]
    assert (room["booked_count"], room["enough_count"]) == (2, 1)
    assert room["booked_h"] == pytest.approx(1 / 60)


def test_without_bookings_or_register_nothing_is_needed_and_nothing_is_known(store: Store) -> None:
    for table in ("clean_bookings", "clean_machines"):
        store.run(f"delete from {table}")
    room = measure_needs(store)["rooms"][0]
    assert (room["booked_count"], room["first_at"], room["enough_count"], room["owned_count"]) == (0, None, 0, None)


def test_a_room_without_costs_has_a_section_and_an_empty_table(store: Store) -> None:
    found = measure_case(store, SITE, FIGURES)
    assert found["currency"] is None
    assert [machine["machine"] for machine in found["machines"]] == ["A", "Z"]
    assert "options" not in found["machines"][0]
    assert store.value("select count(*) from measure_case") == 0


def test_a_room_without_air_has_no_case(store: Store) -> None:
    found = measure_case(store, SITE, {"machines": [], "transports": {}})
    assert (found["machines"], found["room"]) == ([], None)
    assert store.value("select count(*) from measure_case") == 0

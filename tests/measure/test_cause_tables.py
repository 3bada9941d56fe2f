"""The table of causes against a published Pareto table, and causes of events from their matched tickets."""

from __future__ import annotations

from collections.abc import Iterator

import polars as pl
import pytest

from pipeline.measure.cause_tables import causes_by_count, find_causes
from pipeline.store import Store
from tests.model.room_tables import open_memory

# CRAN package qcc, help page of pareto.chart: its data, and the running percentages that it gives.
DEFECTS = {"price code": 80, "schedule date": 27, "supplier code": 66, "contact num.": 94, "part num.": 33}
RUNNING = {
    "contact num.": "31.33", "price code": "58.00", "supplier code": "80.00", "part num.": "91.00",
    "schedule date": "100.00",
}  # fmt: skip


@pytest.fixture
def store() -> Iterator[Store]:
    with open_memory() as opened:
        yield opened


def causes(rows: list[tuple[str, str, str, float]]) -> pl.DataFrame:
    return pl.DataFrame(rows, schema=["top", "second", "grade", "lost_s"], orient="row")


def test_running_share_of_a_published_pareto_table() -> None:
    rows = [(name, "all", "stated", 0.0) for name, count in DEFECTS.items() for _ in range(count)]
    table = causes_by_count(causes(rows))
    assert [(row["top"], row["count"]) for row in table] == sorted(DEFECTS.items(), key=lambda each: -each[1])
    assert {row["top"]: f"{100 * row['running_ratio']:.2f}" for row in table} == RUNNING


def test_equal_counts_go_by_lost_seconds_and_then_by_name() -> None:
    """Two each of b, c and a: b lost 5 s, c and a 3 s. 2 of 6, 4 of 6, 6 of 6."""
    rows = [("b", "x", "stated", 4.0), ("c", "x", "guessed from words", 1.5), ("a", "x", "stated", 3.0)]
    rows += [("b", "x", "none", 1.0), ("c", "x", "stated", 1.5), ("a", "x", "stated", 0.0)]
    table = causes_by_count(causes(rows))
    assert [(row["top"], row["count"], row["lost_s"], row["stated"]) for row in table] == [
        ("b", 2, 5.0, 1), ("a", 2, 3.0, 2), ("c", 2, 3.0, 1),
    ]  # fmt: skip
    assert [row["running_ratio"] for row in table] == pytest.approx([2 / 6, 4 / 6, 1.0])


def test_the_two_levels_are_counted_apart_and_none_is_an_empty_table() -> None:
    rows = [("heads", "clogged", "stated", 0.0), ("heads", "worn", "stated", 0.0), ("heads", "worn", "stated", 0.0)]
    assert [(row["second"], row["count"]) for row in causes_by_count(causes(rows))] == [("worn", 2), ("clogged", 1)]
    schema = {"top": pl.String, "second": pl.String, "grade": pl.String, "lost_s": pl.Float64}
    assert causes_by_count(pl.DataFrame(schema=schema)) == []


def test_an_event_without_a_ticket_is_unknown_and_counted(store: Store) -> None:
    """Three events, one with a ticket whose cause cell names a cause of the taxonomy; all three are in the table."""
    store.run("create table core_recoveries as select * from (values (1, 'ONE', 1), (2, 'ONE', null), (3, 'TWO', 2))"
              " as t(recovery_no, channel, interruption_no)")  # fmt: skip
    store.run("create table metric_recoveries as select recovery_no, '2031-03' as month from core_recoveries")
    store.run("create table core_interruptions (interruption_no bigint, lost_s double)")
    store.run("insert into core_interruptions values (1, 8.5), (2, 4.0)")
    store.run("create table measure_ticket_matches as select 'X1' as ticket, 1 as recovery_no, 60.0 as gap_s")
    store.run("create table clean_tickets as select 'X1' as ticket, 'dropout or shed' as cause,"
              " null::varchar as symptom, null::varchar as action, null::varchar as part")  # fmt: skip
    found = find_causes(store)
    seen = {row["recovery_no"]: (row["ticket"], row["top"], row["second"], row["grade"]) for row in found.to_dicts()}
    assert seen == {
        1: ("X1", "tape and recording", "dropout or shed", "stated"),
        2: (None, "unknown", "record missing", "none"),
        3: (None, "unknown", "record missing", "none"),
    }
    assert {row["recovery_no"]: row["lost_s"] for row in found.to_dicts()} == {1: 8.5, 2: 0.0, 3: 4.0}
    assert store.value("select count(*) from measure_causes") == 3

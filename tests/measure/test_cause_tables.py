"""The table of causes against a published Pareto table, and causes of events from their matched tickets."""

from __future__ import annotations

from collections.abc import Iterator

import polars as pl
import pytest

from pipeline.measure.cause_lexicon import load_lexicon
from pipeline.measure.cause_tables import causes_by_count, find_causes, ruled_causes
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


def plant(store: Store) -> None:
    """Three events, the first two of one incident, one with a ticket whose cause cell names a cause of the taxonomy."""
    store.run("create table core_recoveries as select * from (values (1, 'ONE', 1), (2, 'ONE', null), (3, 'TWO', 2))"
              " as t(recovery_no, channel, interruption_no)")  # fmt: skip
    store.run("create table metric_recoveries as select recovery_no, '2031-03' as month from core_recoveries")
    store.run("create table core_interruptions (interruption_no bigint, lost_s double)")
    store.run("insert into core_interruptions values (1, 8.5), (2, 4.0)")
    store.run("create table measure_ticket_matches as select 'X1' as ticket, 1 as recovery_no, 60.0 as gap_s")
    store.run("create table clean_tickets as select 'X1' as ticket, 'dropout or shed' as cause,"
              " null::varchar as symptom, null::varchar as action, null::varchar as part")  # fmt: skip
    store.run("create table core_incident_recoveries as select recovery_no, case when recovery_no < 3 then 'I1'"
              " else 'I2' end as incident from core_recoveries")  # fmt: skip
    store.run("create table core_cause_rulings (ruling varchar, incident varchar, why_not varchar)")
    store.run("create table clean_rulings (ruling varchar, says varchar, decided_at_utc timestamp, file varchar,"
              " line bigint)")  # fmt: skip


def rule(store: Store, *rulings: tuple[str, str | None, str | None, str | None]) -> None:
    """Rulings as (name, incident or None, what it says, when it was decided), in the order of their lines."""
    for line, (name, incident, says, decided) in enumerate(rulings, start=2):
        why_not = None if incident else "no event on ONE lies within 2 s of that time"
        store.run("insert into core_cause_rulings values (?, ?, ?)", [name, incident, why_not])
        store.run("insert into clean_rulings values (?, ?, ?, 'rulings.csv', ?)", [name, says, decided, line])


def test_an_event_without_a_ticket_is_unknown_and_counted(store: Store) -> None:
    """All three are in the table, and nobody ruled: what counts is what was found."""
    plant(store)
    found = find_causes(store)
    seen = {row["recovery_no"]: (row["ticket"], row["top"], row["second"], row["grade"]) for row in found.to_dicts()}
    assert seen == {
        1: ("X1", "tape and recording", "dropout or shed", "stated"),
        2: (None, "unknown", "record missing", "none"),
        3: (None, "unknown", "record missing", "none"),
    }
    assert {row["recovery_no"]: row["lost_s"] for row in found.to_dicts()} == {1: 8.5, 2: 0.0, 3: 4.0}
    assert store.value("select count(*) from measure_causes") == 3
    assert all(
        (row["found_top"], row["found_second"], row["found_grade"], row["ruling"])
        == (row["top"], row["second"], row["grade"], None)
        for row in found.to_dicts()
    )


def test_a_ruling_is_of_every_event_of_its_incident_and_what_was_found_stays_beside_it(store: Store) -> None:
    """Of two rulings on I1 the one decided later counts, though its line comes first."""
    plant(store)
    rule(
        store,
        ("R1", "I1", "Server: storage", "2031-03-12"),
        ("R2", "I1", "operations", "2031-03-11"),
        ("R3", "I2", "sunspots", None),
        ("R4", None, "server", None),
        ("R5", "I2", None, None),
    )
    rows = {row["recovery_no"]: row for row in find_causes(store).to_dicts()}
    told = {number: (row["top"], row["second"], row["grade"], row["ruling"]) for number, row in rows.items()}
    assert told == {
        1: ("server", "storage", "ruled", "R1"),
        2: ("server", "storage", "ruled", "R1"),
        3: ("unknown", "record missing", "none", None),
    }
    assert (rows[1]["found_top"], rows[1]["found_second"], rows[1]["found_grade"]) == (
        "tape and recording", "dropout or shed", "stated",
    )  # fmt: skip
    assert rows[1]["words"] == "dropout or shed"
    assert (rows[2]["found_top"], rows[2]["found_grade"]) == ("unknown", "none")
    assert ruled_causes(store)[1] == {
        "R2": 'ruling "R1" on the same incident was decided later',
        "R3": 'it says "sunspots", which is no cause of the list of causes',
        "R4": "no event on ONE lies within 2 s of that time",
        "R5": 'it says "", which is no cause of the list of causes',
    }


def test_every_cause_of_the_list_can_be_ruled_at_either_level(store: Store) -> None:
    """As the list itself spells it: the first level alone, or both."""
    plant(store)
    pairs = load_lexicon().order
    wanted = [(top, second, f"{top}: {second}" if second else top) for top, second in pairs]
    wanted += [(top, "", top) for top in dict.fromkeys(top for top, _ in pairs)]
    rule(store, *((f"R{number}", f"I{number}", says, None) for number, (_, _, says) in enumerate(wanted)))
    counting, why_not = ruled_causes(store)
    assert why_not == {}
    assert [(counting[f"I{n}"].top, counting[f"I{n}"].second) for n in range(len(wanted))] == [
        (top, second) for top, second, _ in wanted
    ]

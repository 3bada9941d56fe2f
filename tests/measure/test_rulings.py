"""What each ruling overrode, read from planted tables; whole runs are in tests/test_rulings.py."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from pipeline.measure.rulings import measure_rulings
from pipeline.store import Store
from tests.model.room_tables import open_memory

TABLES = {
    "clean_rulings": "ruling varchar, rules varchar, channel varchar, at_utc timestamp, until_utc timestamp,"
    " says varchar, ruled_by varchar, decided_at_utc timestamp, why varchar, file varchar, line bigint",
    "core_rulings": "ruling varchar, fits_count bigint, why_not varchar",
    "core_cause_rulings": "ruling varchar, incident varchar, why_not varchar",
    "core_incident_rulings": "ruling varchar, incident varchar, events_count bigint",
    "core_switches": "switch_no bigint, kind varchar, found_kind varchar, ruling varchar",
    "measure_causes": "recovery_no bigint, top varchar, second varchar, found_top varchar, found_second varchar,"
    " ruling varchar",
    "core_not_air": "channel varchar, started_at_utc timestamp, ended_at_utc timestamp, ruling varchar",
    "core_pieces": "channel varchar, transmission varchar, started_at_utc timestamp, ended_at_utc timestamp",
}


@pytest.fixture
def store() -> Iterator[Store]:
    with open_memory() as opened:
        for table, columns in TABLES.items():
            opened.run(f"create table {table} ({columns})")
        yield opened


def rule(
    store: Store, name: str, rules: str, *, fits: int, says: str | None = None, why_not: str | None = None
) -> None:
    line = store.value("select count(*) + 2 from clean_rulings")
    store.run(
        "insert into clean_rulings values (?, ?, 'One', '2031-03-09 20:00', null, ?, 'Someone', null, 'because',"
        " 'rulings.csv', ?)",
        [name, rules, says, line],
    )
    store.run("insert into core_rulings values (?, ?, ?)", [name, fits, why_not])


def overrode(store: Store) -> dict[str, tuple[str, int, bool]]:
    return {row["ruling"]: (row["overrode"], row["fits_count"], row["is_fitting"]) for row in measure_rulings(store)}


def test_no_ruling_is_an_empty_table(store: Store) -> None:
    assert measure_rulings(store) == []
    assert store.value("select count(*) from measure_rulings") == 0


def test_a_switch_that_was_found_the_same_overrode_nothing(store: Store) -> None:
    rule(store, "R1", "switch", fits=1, says="planned")
    rule(store, "R2", "switch", fits=1, says="forced")
    rule(store, "R3", "switch", fits=0, says="forced", why_not="it names no channel")
    store.run("insert into core_switches values (1, 'planned', 'unexplained', 'R1'), (2, 'forced', 'forced', 'R2')")
    assert overrode(store) == {"R1": ("unexplained", 1, True), "R2": ("", 1, True), "R3": ("", 0, False)}


def test_causes_are_counted_and_those_found_the_same_left_out(store: Store) -> None:
    """Of five events ruled "server: port" two were unknown, one a drum, one the servo at large, one a port already."""
    rule(store, "R1", "cause", fits=5, says="server: port")
    store.run("insert into core_cause_rulings values ('R1', 'I1', null)")
    store.run(
        "insert into measure_causes values (1, 'server', 'port', 'unknown', 'record missing', 'R1'),"
        " (2, 'server', 'port', 'unknown', 'record missing', 'R1'),"
        " (3, 'server', 'port', 'servo and time base', 'drum', 'R1'),"
        " (4, 'server', 'port', 'servo and time base', '', 'R1'), (5, 'server', 'port', 'server', 'port', 'R1'),"
        " (6, 'unknown', 'record missing', 'unknown', 'record missing', null)"
    )
    found = "unknown: record missing (2 events); servo and time base (1 event); servo and time base: drum (1 event)"
    assert overrode(store) == {"R1": (found, 5, True)}


def test_a_cause_that_is_none_fits_nothing_though_its_place_does(store: Store) -> None:
    rule(store, "R1", "cause", fits=5, says="sunspots")
    store.run("insert into core_cause_rulings values ('R1', 'I1', null)")
    (row,) = measure_rulings(store)
    assert (row["is_fitting"], row["fits_count"]) == (False, 0)
    assert row["why_not"] == 'it says "sunspots", which is no cause of the list of causes'


def test_incidents_and_seconds_are_named(store: Store) -> None:
    """R2 cuts 0.5 s of X1 (till 20:30:00) and 10 s of X2, R3 a thousandth of a second; R4 joins what is one already."""
    rule(store, "R1", "one incident", fits=3)
    rule(store, "R2", "not air", fits=2)
    rule(store, "R3", "not air", fits=1)
    rule(store, "R4", "one incident", fits=2)
    store.run("insert into core_incident_rulings values ('R1', 'b', 1), ('R1', 'a', 2), ('R4', 'a', 2)")
    store.run(
        "insert into core_pieces values ('One', 'X1', '2031-03-09 20:00', '2031-03-09 20:30'),"
        " ('One', 'X2', '2031-03-09 20:30', '2031-03-09 21:00'), ('Two', 'X3', '2031-03-09 20:00', '2031-03-09 21:00')"
    )
    store.run(
        "insert into core_not_air values ('One', '2031-03-09 20:29:59.5', '2031-03-09 20:30:10', 'R2'),"
        " ('One', '2031-03-09 20:59:59.999', '2031-03-09 22:00', 'R3')"
    )
    assert overrode(store) == {
        "R1": ("2 incidents: a, b", 3, True),
        "R2": ("0.5 s within the air window of X1; 10 s within the air window of X2", 2, True),
        "R3": ("0.001 s within the air window of X2", 1, True),
        "R4": ("", 2, True),
    }


def test_who_ruled_is_not_carried_and_instants_say_their_zone(store: Store) -> None:
    rule(store, "R1", "switch", fits=0, why_not="it names no channel")
    (row,) = measure_rulings(store)
    assert "Someone" not in map(str, row.values())
    assert (row["at_utc"], row["until_utc"], row["decided_at_utc"]) == ("2031-03-09T20:00:00Z", None, None)
    columns = store.read("select * from measure_rulings").columns
    assert columns == [
        *("ruling", "rules", "channel", "at_utc", "until_utc", "says", "why", "decided_at_utc"),
        *("fits_count", "overrode", "is_fitting", "why_not", "file", "line"),
    ]

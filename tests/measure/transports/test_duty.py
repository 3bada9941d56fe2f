"""Hours, starts and hour meters of machines, from tables small enough to add up by hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pipeline.measure.transports.duty import measure_duty, summarise_duty
from pipeline.store import Store
from tests.render.small_room import SETTINGS

DUTY = (
    "month, machine, air_s, rolling_air_s, rolling_protect_s, rolling_record_s, rolling_other_s, head_s, starts_count"
)


@pytest.fixture
def store() -> Iterator[Store]:
    with Store(Path(":memory:")) as opened:
        opened.run(f"create table metric_duty as select * from (values"
                   f" ('2031-03', 'A1', 3600.0, 1800.0, 900.0, 0.0, 900.0, 3600.0, 2),"
                   f" ('2031-04', 'A1', 1800.0, 1800.0, 0.0, 7200.0, 0.0, 9000.0, 1),"
                   f" ('2031-04', 'B1', 0.0, 0.0, 3600.0, 0.0, 0.0, 3600.0, 1)) as t({DUTY})")  # fmt: skip
        opened.run("create table core_words (event_no bigint, machine varchar, at_utc timestamp, event varchar,"
                   " value double)")  # fmt: skip
        opened.run("create table core_air_spans as select timestamp '2031-03-01 10:00' as started_at_utc")
        opened.run("create table core_rolling_spans as select timestamp '2031-03-01 09:00' as started_at_utc")
        opened.run("create table core_as_of as select timestamp '2031-03-03 10:00' as as_of_at_utc")
        yield opened


def measured(store: Store, *names: str) -> dict[str, Any]:
    return measure_duty(store, SETTINGS, {"machines": [{"machine": name} for name in names]})


def read_meter(store: Store, machine: str, *readings: tuple[str, float | None]) -> None:
    for number, (when, value) in enumerate(readings):
        store.run("insert into core_words values (?, ?, ?, 'hours', ?)", [number, machine, f"2031-03-{when}", value])


def test_hours_by_duty_add_up(store: Store) -> None:
    """A1 in both months: 1.5 h of air, 1 h of it rolling; 0.25 h protect, 2 h recording, 0.25 h other: 3.5 h heads."""
    found = measured(store, "A1", "B1", "C1")
    a1 = found["machines"][0]
    assert (a1["air_h"], a1["rolling_air_h"]) == (1.5, 1.0)
    assert (a1["protect_h"], a1["record_h"], a1["other_h"]) == (0.25, 2.0, 0.25)
    assert a1["head_h"] == 3.5 == a1["rolling_air_h"] + a1["protect_h"] + a1["record_h"] + a1["other_h"]
    assert a1["starts_count"] == 3
    # C1 was never used: it counts in no mean. Of the two that were, heads (3.5 + 1) / 2.
    assert found["machines"][2]["head_h"] == 0.0
    assert found["room"]["machines_count"] == 2
    assert found["room"]["mean"]["head_h"] == 2.25
    assert found["room"]["total"]["starts_count"] == 4
    # From the first air time, 10:00 on the first, to the data-as-of two days later.
    assert found["span_h"] == 48.0


def test_without_air_the_span_begins_with_the_first_roll(store: Store) -> None:
    store.run("delete from core_air_spans")
    assert measured(store)["span_h"] == 49.0
    store.run("delete from core_rolling_spans")
    assert measured(store)["span_h"] is None


def test_a_meter_that_is_changed_or_set_back(store: Store) -> None:
    """100.0, a day later 104.5, then 0.5 (set back), 3.0, and 900.0 within a day (changed), 901.0: 4.5 + 2.5 + 1.0."""
    read_meter(store, "A1", ("01", 100.0), ("02", 104.5), ("03", 0.5), ("04", 3.0), ("05", 900.0), ("06", 901.0))
    (a1,) = measured(store, "A1")["machines"]
    assert (a1["meter_h"], a1["readings_count"], a1["breaks_count"]) == (8.0, 6, 2)


def test_a_meter_of_whole_hours_and_one_reading_only(store: Store) -> None:
    """From 10:59 to 12:01 a meter of whole hours may go on by two; a reading without a number is none."""
    read_meter(store, "A1", ("01 10:59", 10.0), ("01 11:30", None), ("01 12:01", 12.0))
    read_meter(store, "B1", ("01 10:00", 7.0))
    a1, b1 = measured(store, "A1", "B1")["machines"]
    assert (a1["meter_h"], a1["breaks_count"]) == (2.0, 0)
    assert (b1["meter_h"], b1["readings_count"]) == (None, 1)
    assert measured(store, "A1", "B1")["room"]["mean"]["meter_h"] == 2.0


def test_no_machine_has_no_mean() -> None:
    assert summarise_duty([])["mean"]["air_h"] is None

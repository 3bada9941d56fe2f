"""The clock tables: what goes to the estimate and what comes back, to the microsecond."""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

EVENTS = "at,machine,event,value,detail\n"
SWITCHES = "at,action,channel,from_machine,to_machine,reason,by\n"
START = datetime(2031, 3, 1, 20)


def _write(site, ahead: timedelta, count: int = 8) -> None:
    commands = [START + timedelta(hours=1.37 * k, seconds=7 * k * k) for k in range(count)]
    site.settings("UTC")
    site.write("switches.csv", SWITCHES + "".join(f"{at.isoformat()},start,One,,VT1,,\n" for at in commands) * 2)
    rolls = [(at + ahead).isoformat(timespec="milliseconds") for at in commands]
    site.write("events/a.csv", EVENTS + "".join(f"{at},VT1,roll,,\n" for at in rolls))
    site.write("events/b.csv", EVENTS + "".join(f"{at},VT1,roll,,again\n" for at in rolls) + f"{rolls[0]},VT2,lock,,\n")


def test_a_clock_that_is_5_seconds_ahead(site) -> None:
    _write(site, timedelta(seconds=5, milliseconds=40))
    site.load()
    (segment,) = site.rows("select * from raw_clock_segments")
    # Every roll comes 5.040 s after its command, so that is the offset, and the last pair is the last roll.
    assert segment["offset_s"] == pytest.approx(5.04, abs=1e-6)
    assert segment["reference_at_utc"] == START + timedelta(hours=1.37 * 7, seconds=7 * 49 + 5, milliseconds=40)
    assert (segment["machine"], segment["segment_no"], segment["pairs_count"], segment["is_corrected"]) == (
        "VT1",
        1,
        8,
        True,
    )
    assert (segment["started_at_utc"], segment["ended_at_utc"]) == (None, None)


def test_pairs_are_exact_and_each_once(site) -> None:
    ahead = timedelta(seconds=5, milliseconds=40)
    _write(site, ahead)
    site.load()
    pairs = site.rows("select * from raw_clock_pairs order by house_at_utc")
    assert len(pairs) == 8
    assert {row["machine_at_utc"] - row["house_at_utc"] for row in pairs} == {ahead}
    assert pairs[0]["house_at_utc"] == START


def test_clock_lines_count_and_a_machine_without_pairs_has_a_segment_without_figures(site) -> None:
    site.settings("UTC")
    site.write("events/a.csv", EVENTS + "2031-03-01T20:00:00,VT1,roll,,\n2031-03-01T20:00:00,VT2,clock,,\n")
    site.load()
    rows = site.rows("select * exclude (machine, segment_no) from raw_clock_segments where machine = 'VT1'")
    assert [value for value in rows[0].values() if value is not None] == [0, False]
    assert site.rows("select count(*) as n from raw_clock_segments") == [{"n": 1}]

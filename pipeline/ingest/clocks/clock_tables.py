"""Brings what the clock estimate needs out of the raw tables, and what it found into tables for the models."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from pipeline.ingest.clocks.clock_evidence import Floats
from pipeline.ingest.clocks.clock_freezing import LOOKS
from pipeline.ingest.clocks.clocks import ClockSegment, MachineClock, estimate_clock
from pipeline.ingest.reading_seal import readers_seal
from pipeline.store import Store

AT = pl.Datetime("us")
SEGMENTS = pl.Schema(
    {
        "machine": pl.String(),
        "segment_no": pl.Int32(),
        "started_at_utc": AT,
        "ended_at_utc": AT,
        "reference_at_utc": AT,
        "offset_s": pl.Float64(),
        "drift_ppm": pl.Float64(),
        "within_s": pl.Float64(),
        "pairs_count": pl.Int64(),
        "is_corrected": pl.Boolean(),
    }
)
PAIRS = pl.Schema({"machine": pl.String(), "segment_no": pl.Int32(), "house_at_utc": AT, "machine_at_utc": AT})
LOOKS_TAKEN = pl.Schema({"digest": pl.String()})
EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - naive UTC, as in all tables

ROLLS = """
    select machine, stamped_at_utc, max(stamp_digits) as stamp_digits
    from raw_events where event = 'roll' group by machine, stamped_at_utc order by machine, stamped_at_utc
"""
CLOCKS = """
    select distinct machine, stamped_at_utc, value
    from raw_events where event = 'clock' and value is not null order by machine, stamped_at_utc, value
"""
STOPS = "select distinct machine, stamped_at_utc from raw_events where event = 'stop' order by machine, stamped_at_utc"
STARTS = """
    select distinct to_machine as machine, at_utc
    from raw_switches where action = 'start' order by to_machine, at_utc
"""


def write_clock_tables(store: Store, start_delay_s: float) -> None:
    """Write ``raw_clock_segments`` (one row a segment) and ``raw_clock_pairs`` (one row a start command and its roll).

    ``raw_clock_looks`` keeps what need not be looked at again (see clock_freezing). Reads ``raw_events`` and
    ``raw_switches``. Machines are those with a roll or a clock line. The first segment of a
    machine has no start and the last no end; figures of a segment without pairs are null.
    """
    LOOKS.begin(_known_looks(store))
    clocks = list(_estimates(store, start_delay_s))
    looks = pl.DataFrame({"digest": LOOKS.used()}, schema=LOOKS_TAKEN)
    store.write("raw_clock_looks", looks.with_columns(seal=pl.lit(readers_seal())))
    segments = [_segment_row(clock.machine, no, each) for clock in clocks for no, each in _numbered(clock)]
    pairs = [
        (clock.machine, no, _instant(house), _instant(machine))
        for clock in clocks
        for no, each in _numbered(clock)
        for house, machine in zip(each.pair_house_s, each.pair_machine_s, strict=True)
    ]
    store.write("raw_clock_segments", pl.DataFrame(segments, schema=SEGMENTS, orient="row"))
    store.write("raw_clock_pairs", pl.DataFrame(pairs, schema=PAIRS, orient="row"))


def _known_looks(store: Store) -> list[str]:
    """Looks that this program took at an earlier load."""
    if not store.has("raw_clock_looks"):
        return []
    return store.read("select digest from raw_clock_looks where seal = ?", [readers_seal()])["digest"].to_list()


def _estimates(store: Store, start_delay_s: float) -> Iterator[MachineClock]:
    rolls, clocks, starts, stops = (_by_machine(store.read(sql)) for sql in (ROLLS, CLOCKS, STARTS, STOPS))
    for machine in sorted(rolls.keys() | clocks.keys()):
        rolled, clocked, started = (each.get(machine, pl.DataFrame()) for each in (rolls, clocks, starts))
        yield estimate_clock(
            machine,
            _seconds(started, "at_utc"),
            _seconds(rolled, "stamped_at_utc"),
            _seconds(clocked, "stamped_at_utc"),
            clocked["value"].to_numpy() if clocked.height else np.empty(0),
            start_delay_s=start_delay_s,
            stamp_resolution_s=10.0 ** -int(rolled["stamp_digits"].max() if rolled.height else 0),  # type: ignore[arg-type]
            stops_s=_seconds(stops.get(machine, pl.DataFrame()), "stamped_at_utc"),
        )


def _by_machine(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    return {str(key[0]): group for key, group in frame.partition_by("machine", as_dict=True).items()}


def _seconds(frame: pl.DataFrame, column: str) -> Floats:
    """Epoch seconds; a double holds them to a quarter of a microsecond until the year 2106."""
    return frame[column].cast(pl.Int64).to_numpy() / 1e6 if frame.height else np.empty(0)


def _instant(seconds: float) -> datetime | None:
    return EPOCH + timedelta(microseconds=round(seconds * 1e6)) if math.isfinite(seconds) else None


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _numbered(clock: MachineClock) -> Iterator[tuple[int, ClockSegment]]:
    return enumerate(clock.segments, start=1)


def _segment_row(machine: str, number: int, segment: ClockSegment) -> tuple[object, ...]:
    return (
        machine,
        number,
        _instant(segment.started_s),
        _instant(segment.ended_s),
        _instant(segment.reference_s),
        _number(segment.offset_s),
        _number(segment.drift_ppm),
        _number(segment.within_s),
        segment.pairs,
        segment.corrected,
    )

"""Sums and counts of the metric tables by total, month, channel, machine and month × channel.

Seconds are added as whole microseconds, so that sums over any grouping agree to the last digit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl
import polars.selectors as cs

from pipeline.store import Store

KEYS = ("month", "channel", "machine")
ADDITIVE = ("metric_air", "metric_around", "metric_events", "metric_protect")
Key = Mapping[str, str]


@dataclass(frozen=True)
class Metrics:
    """The additive metrics by month, channel and machine, and the recovery times one row an event.

    ``additive``: one row a month, channel and machine (null where standby fed); columns in ``_us`` are microseconds,
    columns in ``_count`` counts. ``recoveries``: as ``metric_recoveries``, with ``to_service_s`` and ``is_restored``.
    """

    additive: pl.DataFrame
    recoveries: pl.DataFrame


def read_metrics(store: Store, services: pl.DataFrame) -> Metrics:
    """The metrics of the database, with the service times of ``services`` (recovery_no, to_service_s, is_restored)."""
    additive = read_additive(store)
    recoveries = store.read("select * from metric_recoveries order by recovery_no")
    return Metrics(additive, recoveries.join(services, on="recovery_no", how="left", maintain_order="left"))


def read_additive(store: Store) -> pl.DataFrame:
    """The additive metrics, one row a month, channel and machine of each of their tables (see ``Metrics``)."""
    frames = [_in_microseconds(store.read(f"select * from {table}")) for table in ADDITIVE]
    return pl.concat(frames, how="diagonal")


def _in_microseconds(frame: pl.DataFrame) -> pl.DataFrame:
    seconds = [name for name in frame.columns if name.endswith("_s")]
    return frame.with_columns(
        (pl.col(name) * 1_000_000).round().cast(pl.Int64).alias(f"{name.removesuffix('_s')}_us") for name in seconds
    ).drop(seconds)


def sums(metrics: Metrics, key: Key) -> dict[str, int]:
    """Every additive metric summed over the rows that match ``key``; microseconds or counts, 0 where there is none."""
    rows = select(metrics.additive, key)
    return {name: int(value or 0) for name, value in rows.select(cs.numeric().sum()).row(0, named=True).items()}


def select(frame: pl.DataFrame, key: Key) -> pl.DataFrame:
    """The rows of ``frame`` whose columns equal ``key``."""
    for column, value in key.items():
        frame = frame.filter(pl.col(column) == value)
    return frame


def group_keys(store: Store) -> dict[str, list[dict[str, str]]]:
    """The groups to print: months from the first to the last air time or overrun, every channel and machine."""
    months = store.read(
        "select month from site_months"
        " where ended_at_utc > (select min(started_at_utc) from core_pieces)"
        " and (started_at_utc < (select max(ended_at_utc) from core_pieces)"
        " or month <= (select max(month) from metric_around)) order by month"
    )["month"].to_list()
    channels = store.read("select distinct channel from core_windows order by channel")["channel"].to_list()
    machines = store.read(
        "select machine from clean_machines union select machine from clean_bookings"
        " union select machine from core_heard_spans"
        " union select feed from core_air_spans where feed <> 'standby' order by machine"
    )["machine"].to_list()
    return {
        "months": [{"month": month} for month in months],
        "channels": [{"channel": channel} for channel in channels],
        "machines": [{"machine": machine} for machine in machines],
        "month_channels": [{"month": month, "channel": channel} for month in months for channel in channels],
    }

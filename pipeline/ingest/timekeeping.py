"""What the stamps of one file mean: its zone, the order of its dates, and what its name says of the day or the year."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import polars as pl

from pipeline.errors import FeedError
from pipeline.ingest import event_rows
from pipeline.ingest.batch import Batch
from pipeline.ingest.feeds import EVENTS, SWITCHES, Feed
from pipeline.ingest.find import FoundFile
from pipeline.ingest.mapping.feed_tables import SiteFeeds
from pipeline.ingest.times.date_orders import day_in_name, decide_date_order, year_in_name
from pipeline.ingest.times.folds import resolve_folds
from pipeline.ingest.times.reading import Reading
from pipeline.settings import Settings
from pipeline.store import Store

GROUPS = {EVENTS.name: ("machine", "stamped_at_utc"), SWITCHES.name: ("channel", "at_utc")}


def reading_of(found: FoundFile, settings: Settings, feeds: SiteFeeds) -> Reading:
    """How the times of the file are to be read, but for an order of dates that only its data can tell."""
    table = found.table
    if table is None:
        return Reading(settings.zone, date_order=feeds.date_order)
    return Reading(
        table.zone,
        date_order=table.date_order or feeds.date_order,
        numbers=table.numeric_times,
        day_starts=settings.day_start if table.is_broadcast else None,
        timecode_rate=table.timecode_rate,
        year=table.year or year_in_name(found.file),
        day=table.day or day_in_name(found.file),
    )


def with_date_order(found: FoundFile, reading: Reading, batches: Iterable[Batch]) -> Reading:
    """``reading`` with the order of day and month that the file's times tell; ISO 8601 times need none.

    Raises:
        FeedError: some time may be read both ways and none of the file tells which is meant, or they tell both.
    """
    decision = decide_date_order(_times(found.feed, batches))
    if decision.order is None and decision.is_needed:
        raise FeedError(f"{found.file}: {decision.why} Set date_order in its [[feeds]] table.")
    return replace(reading, date_order=decision.order or "")


def settle_folds(store: Store, found: FoundFile, reading: Reading) -> bool:
    """Tell by the order of the file's lines which pass of a doubled hour its stamps mean; False if it has none.

    Rewrites rows of ``raw_events`` or ``raw_switches``. What the order does not tell stays flagged as ambiguous.
    """
    group, at = GROUPS.get(found.feed.name, ("", ""))
    table = found.feed.table
    if not group or not store.value(f"select 1 from {table} where file = ? and is_ambiguous limit 1", [found.file]):
        return False
    stamps = store.read(
        f'select line, {group} as "group", {at} as at_utc, is_ambiguous from {table} where file = ? order by line',
        [found.file],
    )
    settled = resolve_folds(stamps, reading.zone)
    moved = settled.join(stamps.filter("is_ambiguous").select("line"), on="line", how="semi").filter(
        ~pl.col("is_ambiguous")
    )
    if moved.height:
        rows = store.read(f"select * from {table} where file = ? and is_ambiguous", [found.file])
        fresh = moved.select("line", pl.col("at_utc").alias(at), "is_ambiguous")
        changed = rows.update(fresh, on="line", how="left")
        if found.feed is EVENTS:
            table, changed = (
                event_rows.TABLE,
                event_rows.lean_rows(changed.drop("file")).with_columns(file=pl.lit(found.file)),
            )
        store.run(f"delete from {table} where file = ? and is_ambiguous", [found.file])
        store.append(table, changed)
    return True


def _times(feed: Feed, batches: Iterable[Batch]) -> Iterator[tuple[int, str]]:
    """Line and text of every time of the batches, which have our columns."""
    names = [column.name for column in feed.columns if column.kind == "time"]
    for batch in batches:
        for name in names:
            if name in batch.headers:
                cell = f"cell_{batch.headers.index(name)}"
                yield from batch.rows.select("line", cell).drop_nulls().iter_rows()

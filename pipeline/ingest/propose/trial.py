"""Tries a proposed table on the rows it was made of, by the same mapping and typing that will read the file."""

from __future__ import annotations

import tomllib
from fractions import Fraction

import polars as pl

from pipeline.ingest.batch import Batch
from pipeline.ingest.feeds import Feed
from pipeline.ingest.mapping.mapping import map_batch
from pipeline.ingest.mapping.mapping_tables import read_mapping
from pipeline.ingest.propose.look import UTC
from pipeline.ingest.rows import type_rows
from pipeline.ingest.times.date_orders import day_in_name, year_in_name
from pipeline.ingest.times.reading import Carry, Reading

WHERE = "the proposed table"
QUOTED = '^"[^"]*"'  # the value with which many reasons begin
HIGHEST_RATE = Fraction(60)  # frames per second, where the site's are not known


def try_table(text: str, feed: Feed, batch: Batch, file: str) -> str:
    """How many rows of ``batch`` the table ``text`` would keep, and the reason of most others, as a sentence."""
    values = tomllib.loads(text)["feeds"][0]
    mapped = map_batch(
        batch,
        feed,
        read_mapping(values, feed, WHERE),
        decimal=values.get("decimal", ""),
        thousands=values.get("thousands", ""),
    )
    reading = Reading(
        UTC,
        date_order=values.get("date_order", ""),
        numbers=values.get("numeric_times", ""),
        timecode_rate=Fraction(values.get("timecode_rate", HIGHEST_RATE)).limit_denominator(1001),
        year=year_in_name(file),
        day=day_in_name(file),
    )
    carries = {column.name: Carry() for column in feed.columns if column.kind == "time"}
    kept, aside = type_rows(feed, mapped, reading, carries)
    told = f"Tried on {kept.height + aside.height:,} rows: {kept.height:,} would be kept"
    if not aside.height:
        return f"{told}."
    reasons = aside.select("reason", pl.col("reason").str.replace(QUOTED, "").alias("kind"))
    commonest = reasons["kind"].mode(maintain_order=True)[0]
    alike = reasons.filter(pl.col("kind") == commonest)["reason"]
    return f"{told}, {aside.height:,} set aside, {alike.len():,} of them for this or the like: {alike[0]}"

"""The times to recover as items: from which instant to which each ran, how long, and whether its end was seen."""

from __future__ import annotations

import polars as pl

from pipeline.evidence.bases import TIMES
from pipeline.evidence.scope import MICROSECONDS, PLACE_SCHEMA

WORDS = {
    "to_air_s": "lost air",
    "to_take_s": "from the onset to the take",
    "to_cover_s": "from the onset until covered again",
    "to_service_s": "from the ticket's opening to the machine back in service",
}
CUT = {
    "to_air_s": "cut short by the end of the programme, or by the log falling silent",
    "to_take_s": "cut short: no take before the end",
    "to_cover_s": "cut short: not covered again before the window's end",
    "to_service_s": "cut short: not restored when the ticket was closed, or by the end of the data",
}


def time_items(recoveries: pl.DataFrame, name: str) -> pl.DataFrame:
    """The recoveries to which the time ``name`` applies, one item each (amount 1), with took_us and is_seen beside.

    Recoveries to which it does not apply are left out, as they are of the figures.
    """
    flag, start = TIMES[name]
    took = pl.col(f"{name.removesuffix('_s')}_us")
    rows = recoveries.filter(took.is_not_null())
    ended = pl.col(start) + pl.duration(microseconds=took)
    told = pl.format("{}: {} s", pl.lit(WORDS[name]), (took / MICROSECONDS))
    cut = pl.when(pl.col(flag)).then(pl.lit("")).otherwise(pl.lit(f", {CUT[name]}"))
    own_row = ("file", "line", "says")  # of the ticket
    return rows.select(
        pl.col(start).alias("started_at_utc"),
        ended.alias("ended_at_utc"),
        "channel",
        "machine",
        (told + cut).alias("what"),
        pl.lit(1, dtype=pl.Int64).alias("amount"),
        "month",
        pl.lit(name.removesuffix("_s").replace("_", " ")).alias("kind"),
        "number",
        *(pl.when(name == "to_service_s").then(column).cast(PLACE_SCHEMA[column]).alias(column) for column in own_row),
        took.alias("took_us"),
        pl.col(flag).alias("is_seen"),
    )

"""What each ruling of a person did: what it fits, what it overrode, or why it fits nothing.

A ruling changes conclusions and never a row, so whoever reads the pages must be able to see each of them beside what
the program had found. Who ruled is left in the rows: nothing here carries it.
"""

from __future__ import annotations

from typing import Any

import polars as pl

from pipeline.measure.cause_tables import ruled_causes
from pipeline.store import Store

RULINGS = """
select r.ruling, r.rules, r.channel, r.at_utc, r.until_utc, r.says, r.why, r.decided_at_utc, f.fits_count, f.why_not,
    r.file, r.line
from clean_rulings as r
inner join core_rulings as f on r.ruling = f.ruling
order by r.at_utc, r.ruling
"""
# What the program had found, in words, one row a ruling that changed it; by the word in `rules`.
OVERRODE = {
    "switch": "select ruling, found_kind as found from core_switches where ruling is not null and found_kind <> kind",
    "cause": """
with
found as (
    select ruling, found_top || case when found_second <> '' then ': ' || found_second else '' end as cause,
        count(*) as events_count
    from measure_causes
    where ruling is not null and (found_top, found_second) <> (top, second)
    group by all
)
select ruling, string_agg(
    cause || ' (' || events_count || case when events_count = 1 then ' event)' else ' events)' end,
    '; ' order by events_count desc, cause
) as found
from found group by ruling
""",
    "one incident": """
select ruling, count(*) || ' incidents: ' || string_agg(incident, ', ' order by incident) as found
from core_incident_rulings group by ruling having count(*) > 1
""",
    "not air": """
with
cut as (
    select n.ruling, p.transmission, greatest(n.started_at_utc, p.started_at_utc) as started_at_utc,
        least(n.ended_at_utc, p.ended_at_utc) as ended_at_utc
    from core_not_air as n
    inner join core_pieces as p
        on n.channel = p.channel and n.started_at_utc < p.ended_at_utc and n.ended_at_utc > p.started_at_utc
),
summed as (
    select ruling, transmission, sum(date_diff('microsecond', started_at_utc, ended_at_utc)) as cut_us
    from cut group by ruling, transmission
)
select ruling, string_agg(
    regexp_replace(printf('%.6f', cut_us / 1000000.0), '[.]?0+$', '') || ' s within the air window of ' || transmission,
    '; ' order by transmission
) as found
from summed group by ruling
""",
}
COLUMNS = (
    *("ruling", "rules", "channel", "at_utc", "until_utc", "says", "why", "decided_at_utc"),
    *("fits_count", "overrode", "is_fitting", "why_not", "file", "line"),
)
INSTANTS = ("at_utc", "until_utc", "decided_at_utc")


def measure_rulings(store: Store) -> list[dict[str, Any]]:
    """Write ``measure_rulings`` (grain: one ruling that counts as a row) and return it as figures.json has it.

    ``fits_count`` is the number of switches, events or pieces of air time that it rules, ``overrode`` what the program
    had found in its place, empty where it had found the same. One that fits nothing has ``why_not`` and overrode
    nothing. To be called once the causes are written. Instants in figures.json are ISO 8601 in UTC.
    """
    rulings = store.read(RULINGS)
    _, refused = ruled_causes(store)
    why_not = rulings["ruling"].replace_strict(refused, default=rulings["why_not"], return_dtype=pl.String)
    overrode = dict(row for sql in OVERRODE.values() for row in store.read(sql).rows())
    found = rulings["ruling"].replace_strict(overrode, default="", return_dtype=pl.String)
    told = rulings.with_columns(why_not.alias("why_not"), found.alias("overrode")).with_columns(
        pl.col("why_not").is_null().alias("is_fitting")
    )
    judged = told.with_columns(
        pl.when("is_fitting").then("fits_count").otherwise(0).alias("fits_count"),
        pl.when("is_fitting").then("overrode").otherwise(pl.lit("")).alias("overrode"),
    ).select(COLUMNS)
    store.write("measure_rulings", judged)
    return [_as_figure(row) for row in judged.iter_rows(named=True)]


def _as_figure(row: dict[str, Any]) -> dict[str, Any]:
    return {name: f"{value.isoformat()}Z" if name in INSTANTS and value else value for name, value in row.items()}

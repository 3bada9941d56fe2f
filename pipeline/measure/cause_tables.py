"""The cause of every event, read from its ticket; an event without a ticket has the cause unknown, and is counted."""

from __future__ import annotations

from typing import Any

import polars as pl

from pipeline.measure.causes import read_cause
from pipeline.store import Store

EVENTS = """
select
    r.recovery_no, p.month, r.channel, m.ticket, t.cause, t.symptom, t.action, t.part, coalesce(i.lost_s, 0) as lost_s
from core_recoveries as r
inner join metric_recoveries as p on r.recovery_no = p.recovery_no
left join core_interruptions as i on r.interruption_no = i.interruption_no
left join measure_ticket_matches as m on r.recovery_no = m.recovery_no
left join clean_tickets as t on m.ticket = t.ticket
order by r.recovery_no
"""
NO_TICKET = ("unknown", "record missing", "none", "")
SCHEMA = {
    "recovery_no": pl.Int64, "ticket": pl.String, "top": pl.String, "second": pl.String, "grade": pl.String,
    "words": pl.String,
}  # fmt: skip


def find_causes(store: Store) -> pl.DataFrame:
    """Write ``measure_causes`` (grain: one recovery): the cause in two levels, its evidence grade and deciding words.

    Returns the same rows with month, channel and lost_s beside them.
    """
    events = store.read(EVENTS)
    causes = pl.DataFrame([_cause_row(event) for event in events.iter_rows(named=True)], schema=SCHEMA, orient="row")
    store.write("measure_causes", causes)
    return causes.join(events.select("recovery_no", "month", "channel", "lost_s"), on="recovery_no", how="left")


def _cause_row(event: dict[str, Any]) -> tuple[Any, ...]:
    if event["ticket"] is None:
        return (event["recovery_no"], None, *NO_TICKET)
    cause = read_cause(event["cause"], event["symptom"], event["action"], event["part"])
    return (event["recovery_no"], event["ticket"], cause.top, cause.second, cause.grade, ", ".join(cause.words))


def causes_by_count(causes: pl.DataFrame) -> list[dict[str, Any]]:
    """Causes with their count and lost seconds, most frequent first, each with the running share of the count.

    The running share is the cumulative percentage of a Pareto table, as a share 0–1.
    """
    counted = (
        causes.group_by("top", "second")
        .agg(
            pl.len().alias("count"),
            pl.col("lost_s").sum().round(6),
            (pl.col("grade") == "stated").sum().alias("stated"),
        )
        .sort(["count", "lost_s", "top", "second"], descending=[True, True, False, False])
    )
    share = counted["count"].cum_sum() / max(counted["count"].sum(), 1)
    return counted.with_columns(share.alias("running_ratio")).to_dicts()

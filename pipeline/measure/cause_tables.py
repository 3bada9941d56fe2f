"""The cause of every event, read from its ticket or ruled by a person; without either it is unknown, and is counted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.measure.causes import named_cause, read_cause
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
RULINGS = """
select r.ruling, r.says, c.incident, c.why_not
from core_cause_rulings as c
inner join clean_rulings as r on c.ruling = r.ruling
order by r.decided_at_utc nulls first, r.file, r.line
"""
RULED_EVENTS = "select incident, recovery_no from core_incident_recoveries where recovery_no is not null"
RULED = "ruled"
NO_TICKET = ("unknown", "record missing", "none", "")
SCHEMA = dict.fromkeys(
    ("ticket", "top", "second", "grade", "words", "found_top", "found_second", "found_grade", "ruling"), pl.String
)


@dataclass(frozen=True)
class CauseRuling:
    """What a person ruled to be the cause of an incident's events."""

    ruling: str
    top: str
    second: str


def find_causes(store: Store) -> pl.DataFrame:
    """Write ``measure_causes`` (grain: one recovery): the cause in two levels, its evidence grade and deciding words.

    Where a ruling counts, the cause is the ruled one and the grade "ruled". ``found_top``, ``found_second`` and
    ``found_grade`` are what was read from the ticket in any case, and ``words`` what decided that reading. Returns the
    same rows with month, channel and lost_s beside them.
    """
    events = store.read(EVENTS)
    ruled = _by_recovery(store, ruled_causes(store)[0])
    rows = [_cause_row(event, ruled.get(event["recovery_no"])) for event in events.iter_rows(named=True)]
    causes = pl.DataFrame(rows, schema={"recovery_no": pl.Int64, **SCHEMA}, orient="row")
    store.write("measure_causes", causes)
    return causes.join(events.select("recovery_no", "month", "channel", "lost_s"), on="recovery_no", how="left")


def ruled_causes(store: Store) -> tuple[dict[str, CauseRuling], dict[str, str]]:
    """The ruling that counts for each incident, and why each other ruling on a cause does not, by its name.

    Of several rulings on one incident the last decided counts, of these the last written.
    """
    counting: dict[str, CauseRuling] = {}
    why_not: dict[str, str] = {}
    for row in store.read(RULINGS).iter_rows(named=True):
        named = named_cause(row["says"])
        if row["why_not"] or named is None:
            says = f'it says "{row["says"] or ""}", which is no cause of the list of causes'
            why_not[row["ruling"]] = row["why_not"] or says
            continue
        earlier = counting.get(row["incident"])
        if earlier is not None:
            why_not[earlier.ruling] = f'ruling "{row["ruling"]}" on the same incident was decided later'
        counting[row["incident"]] = CauseRuling(row["ruling"], *named)
    return counting, why_not


def _by_recovery(store: Store, ruled: dict[str, CauseRuling]) -> dict[int, CauseRuling]:
    if not ruled:
        return {}
    return {number: ruled[incident] for incident, number in store.read(RULED_EVENTS).rows() if incident in ruled}


def _cause_row(event: dict[str, Any], ruled: CauseRuling | None) -> tuple[Any, ...]:
    top, second, grade, words = _found_cause(event)
    if ruled is None:
        return (event["recovery_no"], event["ticket"], top, second, grade, words, top, second, grade, None)
    told = (ruled.top, ruled.second, RULED, words)
    return (event["recovery_no"], event["ticket"], *told, top, second, grade, ruled.ruling)


def _found_cause(event: dict[str, Any]) -> tuple[str, str, str, str]:
    if event["ticket"] is None:
        return NO_TICKET
    cause = read_cause(event["cause"], event["symptom"], event["action"], event["part"])
    return (cause.top, cause.second, cause.grade, ", ".join(cause.words))


def causes_by_count(causes: pl.DataFrame) -> list[dict[str, Any]]:
    """Causes with their count and lost seconds, most frequent first, each with the running share of the count.

    The running share is the cumulative percentage of a Pareto table, as a share 0–1.
    """
    counted = (
        causes.group_by("top", "second", maintain_order=True)
        .agg(
            pl.len().alias("count"),
            pl.col("lost_s").sum().round(6),
            (pl.col("grade") == "stated").sum().alias("stated"),
        )
        .sort(["count", "lost_s", "top", "second"], descending=[True, True, False, False])
    )
    share = counted["count"].cum_sum() / max(counted["count"].sum(), 1)
    return counted.with_columns(share.alias("running_ratio")).to_dicts()

"""Remedies being watched: what was done to a machine in the last months, and how it has done since.

A ticket's own event is left out on the side before: that it happened is why there is a ticket, and of a Poisson process
the other events are as if it had not been looked for (Slivnyak's theorem; Chiu, Stoyan, Kendall and Mecke, Stochastic
Geometry and its Applications, chapter 2). What is not left out is that people mend what has just been bad: some of
every improvement is a return to the usual, which is why a remedy is judged by exact limits and never by one month.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

import polars as pl

from pipeline.measure.cause_findings import UNKNOWN, read_cell
from pipeline.measure.cause_lexicon import load_lexicon
from pipeline.measure.causes import read_cause
from pipeline.measure.remedy_tests import Tally, judge_all
from pipeline.store import Store

WATCHED_MONTHS = 3
BEFORE = timedelta(days=365)
MOST = 60  # remedies of one month, the newest; a longer list is watched by nobody
NOT_A_FAULT = "not a fault"
MICROSECONDS = 1_000_000
TICKETS = """
select
    t.ticket, t.machine, coalesce(t.restored_at_utc, t.closed_at_utc) as done_at_utc, t.closed_at_utc, t.cause,
    t.symptom, t.action, t.part, c.top, c.second, x.recovery_no, r.switch_no, p.incident
from clean_tickets as t
left join measure_ticket_matches as x on t.ticket = x.ticket
left join measure_causes as c on x.recovery_no = c.recovery_no
left join core_recoveries as r on x.recovery_no = r.recovery_no
left join core_incident_recoveries as p on x.recovery_no = p.recovery_no
where t.machine is not null and t.closed_at_utc is not null
    and coalesce(t.restored_at_utc, t.closed_at_utc) >= t.opened_at_utc
order by done_at_utc, t.ticket
"""
EVENTS = """
select r.recovery_no, r.machine, r.started_at_utc as at_utc, c.top, c.second, p.incident
from core_recoveries as r
inner join measure_causes as c on r.recovery_no = c.recovery_no
inner join core_incident_recoveries as p on r.recovery_no = p.recovery_no
where r.machine is not null
order by r.started_at_utc, r.recovery_no
"""
SWITCHES = """
select switch_no, from_machine as machine, at_utc from core_switches where is_protect order by at_utc, switch_no
"""
MONTHS = "select month, started_at_utc, ended_at_utc from site_months order by month"
AIR = """
with
windows as (
    select unnest(?) as number, unnest(?) as machine, unnest(?) as started_at_utc, unnest(?) as ended_at_utc
)
select
    w.number,
    coalesce(
        sum(
            date_diff(
                'microsecond', greatest(a.started_at_utc, w.started_at_utc), least(a.ended_at_utc, w.ended_at_utc)
            )
        ) filter (where a.feed is not null),  -- greatest and least pass over what a window without air lacks
        0
    ) as air_us
from windows as w
left join core_air_spans as a
    on w.machine = a.feed and a.started_at_utc < w.ended_at_utc and a.ended_at_utc > w.started_at_utc
group by w.number
order by w.number
"""
_read = lru_cache(maxsize=4096)(read_cause)  # a room writes the same few notes over and over
Row = Mapping[str, Any]
Grouped = Mapping[str, Sequence[Row]]


def measure_remedies(store: Store, months: Sequence[str]) -> list[dict[str, Any]]:
    """For each of ``months`` the remedies of closed tickets of it and the two months before, newest first.

    One entry a month: month, remedies, and left_out, how many more than ``MOST`` there were. A remedy is of a machine
    and a cause, on two levels: the last ticket that says that something was done (`remedy_of`), with ``earlier``, how
    many tickets before it in these months said so of the same machine and cause. ``same``: events of that machine and
    cause (None where the cause is not known), ``all``: all protect switches away from it; both as `judge_all` gives
    them, in air hours that the machine fed in at most 365 days before (``before_s``) and since, to the month's end
    (``since_s``). ``done`` is the instant (UTC) of restored, else closed. ``incidents_before`` and ``incidents_since``
    name the incidents of the events counted, ``incident`` that of the ticket itself.

    Reads ``clean_tickets``, ``measure_ticket_matches``, ``measure_causes``, ``core_recoveries``, ``core_switches``,
    ``core_incident_recoveries``, ``core_air_spans`` and ``site_months``; writes nothing.
    """
    tickets = [row for row in map(remedy_of, store.read(TICKETS).iter_rows(named=True)) if row is not None]
    spans = {row["month"]: row for row in store.read(MONTHS).iter_rows(named=True)}
    watched = [
        (month, entry) for place, month in enumerate(months) for entry in _watched(tickets, months, place, spans)
    ]
    air = _air(store, [(entry["machine"], *window) for _, entry in watched for window in _windows(entry)])
    events, switches = _by_machine(store.read(EVENTS)), _by_machine(store.read(SWITCHES))
    counted = [
        (month, _counted(entry, events, switches, air[2 * place : 2 * place + 2]))
        for place, (month, entry) in enumerate(watched)
    ]
    return [_month(month, [entry for of, entry in counted if of == month]) for month in months]


def remedy_of(ticket: Row) -> dict[str, Any] | None:
    """The ticket with its cause (``top``, ``second``) where it says that something was done; else None.

    Something was done where the action holds a word for a remedy by the word list of causes (replaced, cleaned,
    adjusted ...), or where it is empty and a part is named. What turned out to be no fault had no remedy. The cause is
    that of the ticket's event, ruled or read, else what the ticket itself reads as.
    """
    is_done = "remedy" in read_cell("action", ticket["action"], load_lexicon()).marks
    if not is_done and ((ticket["action"] or "").strip() or not (ticket["part"] or "").strip()):
        return None
    top, second = ticket["top"], ticket["second"]
    if top is None:
        cause = _read(ticket["cause"], ticket["symptom"], ticket["action"], ticket["part"])
        top, second = cause.top, cause.second
    return None if top == NOT_A_FAULT else {**ticket, "top": top, "second": second or ""}


def _watched(
    tickets: Sequence[Row], months: Sequence[str], place: int, spans: Mapping[str, Row]
) -> Iterable[dict[str, Any]]:
    """The remedies of the month at ``place`` and the two before, the last of each machine and cause, newest first."""
    first, last = spans[months[max(0, place - WATCHED_MONTHS + 1)]], spans[months[place]]
    latest: dict[tuple[str, str, str], dict[str, Any]] = {}
    for ticket in tickets:
        if first["started_at_utc"] <= ticket["closed_at_utc"] < last["ended_at_utc"]:
            key = (ticket["machine"], ticket["top"], ticket["second"])
            earlier = latest[key]["earlier"] + 1 if key in latest else 0
            latest[key] = {**ticket, "earlier": earlier, "until_utc": last["ended_at_utc"]}
    return sorted(latest.values(), key=lambda entry: (entry["done_at_utc"], entry["ticket"]), reverse=True)


def _windows(entry: Row) -> tuple[tuple[datetime, datetime], tuple[datetime, datetime]]:
    done = entry["done_at_utc"]
    return (done - BEFORE, done), (done, max(done, entry["until_utc"]))


def _air(store: Store, windows: Sequence[tuple[str, datetime, datetime]]) -> list[float]:
    """Air seconds that each machine fed in its window; air time ends where the data end."""
    if not windows:
        return []
    machines, starts, ends = (list(column) for column in zip(*windows, strict=True))
    frame = store.read(AIR, [list(range(len(windows))), machines, starts, ends])
    return [int(air_us) / MICROSECONDS for air_us in frame["air_us"]]


def _by_machine(frame: pl.DataFrame) -> dict[str, list[dict[str, Any]]]:
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in frame.iter_rows(named=True):
        rows.setdefault(row["machine"], []).append(row)
    return rows


def _counted(
    entry: Row, events: Mapping[str, Any], switches: Mapping[str, Any], air: Sequence[float]
) -> dict[str, Any]:
    """The entry with what happened on its machine on both sides, the ticket's own event left out."""
    own = [
        row
        for row in events.get(entry["machine"], ())
        if (row["top"], row["second"] or "") == (entry["top"], entry["second"])
        and row["recovery_no"] != entry["recovery_no"]
    ]
    of_all = [row for row in switches.get(entry["machine"], ()) if row["switch_no"] != entry["switch_no"]]
    same, every = ([_within(rows, window) for window in _windows(entry)] for rows in (own, of_all))
    is_known = entry["top"] != UNKNOWN
    return {
        **{name: entry[name] for name in ("ticket", "machine", "top", "second", "action", "part", "earlier")},
        "done": f"{entry['done_at_utc'].isoformat()}Z",
        "incident": entry["incident"],
        "before_s": air[0],
        "since_s": air[1],
        "same": Tally(len(same[0]), len(same[1]), *air) if is_known else None,
        "all": Tally(len(every[0]), len(every[1]), *air),
        "incidents_before": _incidents(same[0]) if is_known else [],
        "incidents_since": _incidents(same[1]) if is_known else [],
    }


def _within(rows: Iterable[Row], window: tuple[datetime, datetime]) -> list[Row]:
    return [row for row in rows if window[0] <= row["at_utc"] < window[1]]


def _incidents(rows: Iterable[Row]) -> list[str]:
    return list(dict.fromkeys(row["incident"] for row in rows))


def _month(month: str, entries: list[dict[str, Any]]) -> dict[str, Any]:
    """One month's remedies, judged together: each comparison is one of as many as the page makes."""
    kept = entries[:MOST]
    tallies = [tally for entry in kept for tally in (entry["same"], entry["all"]) if tally is not None]
    judged = iter(judge_all(tallies))
    remedies = [
        {**entry, "same": next(judged) if entry["same"] is not None else None, "all": next(judged)} for entry in kept
    ]
    return {"month": month, "remedies": remedies, "left_out": len(entries) - len(kept)}

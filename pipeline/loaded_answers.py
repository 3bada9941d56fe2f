"""What is loaded, to what date, and what is missing: feeds without file, days without line, files to load."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from pipeline.answers import FILES, WITHDRAWN, open_last_run
from pipeline.ingest.standing import site_standing
from pipeline.keeping.room import room_taken, told_room
from pipeline.store import Store

ACCOUNTS = f"""
    with files as ({FILES})
    select
        feed, count(*) as files_count, min(first_at_utc) as first_at_utc, max(last_at_utc) as last_at_utc,
        cast(sum(read_count) as bigint) as read_count, cast(sum(kept_count) as bigint) as kept_count,
        cast(sum(repeat_count) as bigint) as repeat_count, cast(sum(set_aside_count) as bigint) as set_aside_count
    from files group by feed order by feed
"""
# Of each hour the first and the last line are enough: an hour lies in no more than two broadcast days. A machine's days
# are counted to the last line of any machine, so that a log which ends early shows; the selector's to its own last.
SILENT_DAYS = """
    with lines as (
        select 'events' as feed, machine, stamped_at_utc as at_utc from raw_events
        union all
        select 'switches', '', at_utc from raw_switches
    ),
    hours as (
        select feed, machine, min(at_utc) as first_at_utc, max(at_utc) as last_at_utc
        from lines where at_utc is not null group by feed, machine, date_trunc('hour', at_utc)
    ),
    stamps as (
        select feed, machine, first_at_utc as at_utc from hours
        union
        select feed, machine, last_at_utc from hours
    ),
    heard as (
        select distinct s.feed, s.machine, d.day
        from stamps as s
        inner join site_days as d on s.at_utc >= d.started_at_utc and s.at_utc < d.ended_at_utc
    ),
    spans as (
        select feed, machine, min(day) as first_day, max(max(day)) over (partition by feed) as last_day
        from heard group by feed, machine
    )
    select s.feed, s.machine, s.first_day, s.last_day, d.day as silent_day
    from spans as s
    left join site_days as d
        on d.day between s.first_day and s.last_day
        and not exists (
            select 1 from heard as h where h.feed = s.feed and h.machine = s.machine and h.day = d.day
        )
    order by s.feed, s.machine, d.day
"""
ONE_DAY = timedelta(days=1)
MOST_SPANS = 12  # told of a log in text; JSON has all


def read_loaded(site: Path, database: Path | None = None) -> dict[str, Any]:
    """What the database of ``site`` holds and lacks, as plain values ready for JSON.

    ``feeds``: an account each, with its first and last stamp in UTC. ``logs``: of each machine and of the selector
    (machine null) the broadcast days without a line, from the log's first day to the last of its feed, as spans of
    days, both ends included. ``wanting``: feeds with no file. ``not_loaded``: files new, changed or gone since the
    last run. ``withdrawn``: files that a person took out. ``room``: the disk it takes (see `room_taken`).

    Raises:
        StoreError: there was no run yet.
        SiteError: site.toml cannot be used.
        FeedError: a file cannot be read.
    """
    with open_last_run(site, database) as store:
        standing = site_standing(site, store)
        as_of = store.value("select as_of_at_utc from core_as_of")
        return {
            "site": store.value("select name from site_settings"),
            "as_of": _iso(as_of),
            "feeds": [_plain(row) for row in store.read(ACCOUNTS).iter_rows(named=True)],
            "logs": list(_logs(store)),
            "wanting": [asdict(each) | {"paths": list(each.paths)} for each in standing.wanting],
            "not_loaded": [asdict(each) for each in standing.files],
            "withdrawn": store.read(WITHDRAWN).to_dicts(),
            "room": room_taken(store),
        }


def loaded_text(loaded: dict[str, Any]) -> str:
    """The same for a person."""
    return "\n".join(
        (
            f"{loaded['site']}, data as of {_minute(loaded['as_of'])}",
            "",
            "Feeds",
            *(_told_feed(row) for row in loaded["feeds"]),
            *(_told_wanting(each) for each in loaded["wanting"]),
            "",
            "Broadcast days without a line",
            *(_told_log(each) for each in loaded["logs"]),
            "",
            "Not loaded yet",
            *(
                [f"  {each['file']} ({each['feed']}): {each['standing']}" for each in loaded["not_loaded"]]
                or ["  none"]
            ),
            "",
            "Room on the disk",
            f"  {told_room(loaded['room'])}",
        )
    )


def _logs(store: Store) -> Iterator[dict[str, Any]]:
    silent: dict[tuple[str, str], list[date]] = {}
    spans: dict[tuple[str, str], tuple[date, date]] = {}
    for feed, machine, first, last, day in store.read(SILENT_DAYS).iter_rows():
        spans[feed, machine] = (first, last)
        silent.setdefault((feed, machine), []).extend([day] if day else [])
    for (feed, machine), (first, last) in spans.items():
        days = silent[feed, machine]
        yield {
            "feed": feed,
            "machine": machine or None,
            "from": first.isoformat(),
            "to": last.isoformat(),
            "silent_days": len(days),
            "silent": [{"from": a.isoformat(), "to": b.isoformat()} for a, b in join_days(days)],
        }


def join_days(days: Sequence[date]) -> list[tuple[date, date]]:
    """Days in order, those that follow each other joined: first and last of each stretch."""
    spans: list[tuple[date, date]] = []
    for day in days:
        if spans and spans[-1][1] + ONE_DAY == day:
            spans[-1] = (spans[-1][0], day)
        else:
            spans.append((day, day))
    return spans


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    return {name: _iso(value) if isinstance(value, datetime) else value for name, value in row.items()}


def _iso(at_utc: datetime | None) -> str | None:
    return f"{at_utc.isoformat(timespec='seconds')}Z" if at_utc else None


def _minute(iso: str | None) -> str:
    return f"{iso[:16].replace('T', ' ')} UTC" if iso else "not known"


def _told_feed(row: dict[str, Any]) -> str:
    span = f", {_minute(row['first_at_utc'])} to {_minute(row['last_at_utc'])}" if row["last_at_utc"] else ""
    files = f"{row['files_count']} file" + ("s" if row["files_count"] != 1 else "")
    return f"  {row['feed']}: {files}, {row['read_count']} rows, {row['set_aside_count']} set aside{span}"


def _told_wanting(each: dict[str, Any]) -> str:
    named = f"[[feeds]] table {each['table']}" if each["table"] else "its usual name"
    need = "needed" if each["is_required"] else "may be left out"
    return f"  {each['feed']}: no file by {named} ({', '.join(each['paths'])}); {need}"


def _told_log(log: dict[str, Any]) -> str:
    name = log["machine"] or "selector"
    spans = [one["from"] if one["from"] == one["to"] else f"{one['from']} to {one['to']}" for one in log["silent"]]
    more = f" and {len(spans) - MOST_SPANS} more" if len(spans) > MOST_SPANS else ""
    days = ", ".join(spans[:MOST_SPANS]) + more or "none"
    return f"  {name}, {log['from']} to {log['to']}: {days}"

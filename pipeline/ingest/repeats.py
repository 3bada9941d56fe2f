"""Finds the rows of the machine logs that come again, as rotated files bring them, over the time that changed.

Equal rows have equal stamps, so that what is known of other times stands. Where files overlap, only rows whose stamp,
machine and event come more than once are compared in full; elsewhere only those whose stamp does not rise in its file.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import pairwise

import polars as pl

from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.rising import Instants, Rising, Span
from pipeline.store import Store

TABLE = "raw_event_repeats"
COLUMNS = (("file", "VARCHAR"), ("line", "BIGINT"), ("stamped_at_utc", "TIMESTAMP"))
ROWS_AT_ONCE = 4_000_000  # looked at together: what is held of a row is some tens of bytes

NEAR = "stamps_that_do_not_rise"
NUMBERED = """
numbered as (
    select
        file,
        line,
        stamped_at_utc,
        row_number() over (
            partition by stamped_at_utc, machine, event, value, detail, extra
            order by file, line
        ) as copy_no
    from near
)
select file, line, stamped_at_utc from numbered where copy_no > 1 order by file, line
"""
FIND = f"""
insert into {TABLE}
with rows_there as (
    select hash(stamped_at_utc, machine, event) as mark
    from {EVENTS.table}
    where stamped_at_utc between $first and $last
),
marks as (select mark from rows_there group by mark having count(*) > 1),
near as (
    select r.*
    from {EVENTS.table} as r
    where r.stamped_at_utc between $first and $last
        and hash(r.stamped_at_utc, r.machine, r.event) in (select mark from marks)
),
{NUMBERED}
"""
FIND_LATE = f"""
insert into {TABLE}
with near as (
    select r.*
    from {EVENTS.table} as r
    where r.stamped_at_utc in (select at_utc from {NEAR})
),
{NUMBERED}
"""
STANDING = f"""
select file, machine, min(stamped_at_utc) as started, max(stamped_at_utc) as ended
from {EVENTS.table}
where stamped_at_utc between $1 and $2
group by file, machine
order by all
"""


def write_repeats(store: Store, changed: Iterable[Span] | None = None, rising: Rising | None = None) -> None:
    """Make ``raw_event_repeats`` hold every row of ``raw_events`` that equals one before it, by file and line.

    Rows are equal if all but their file, line and spelling is. Grain: one such row; key: file, line. ``changed`` are
    the stretches of stamps, both ends included, within which rows came or went since it was last true; all of time if
    it is None. Files in ``rising`` came too.
    """
    spans = _whole(store) if changed is None else _joined(changed)
    if changed is not None and rising is not None and rising.files:
        spans = _joined([*spans, *rising.spans(), *_meeting(store, rising)])
        _write_late(store, rising.late(), spans)
    for first, last in spans:
        store.run(f"delete from {TABLE} where stamped_at_utc between $first and $last", {"first": first, "last": last})
        for start, end in _parts(store, first, last):
            store.run(FIND, {"first": start, "last": end})


def _meeting(store: Store, rising: Rising) -> Iterator[Span]:
    """Where rows that stood before may be those of a file in ``rising``: of its machines, in its time."""
    first, last = rising.reach()
    for file, machine, started, ended in store.read(STANDING, [first, last]).iter_rows():
        if file not in rising.files:
            yield from rising.meets(machine, started, ended)


def _write_late(store: Store, late: Instants, spans: Sequence[Span]) -> None:
    """Find the repeats at the stamps that do not rise, but for those within ``spans``, where all are looked at."""
    at = pl.DataFrame({"at_utc": pl.Series(late).cast(pl.Datetime("us"))})
    for first, last in spans:
        at = at.filter(~pl.col("at_utc").is_between(first, last))
    if at.height:
        store.run(f"create or replace temp table {NEAR} (at_utc timestamp)")
        store.append(NEAR, at)
        store.run(f"delete from {TABLE} where stamped_at_utc in (select at_utc from {NEAR})")
        store.run(FIND_LATE)
        store.run(f"drop table {NEAR}")


def spans_of(store: Store, files: list[str]) -> list[Span]:
    """First and last stamp of the events of each of ``files`` that has any."""
    if not files:
        return []
    rows = store.read(
        f"select min(stamped_at_utc), max(stamped_at_utc) from {EVENTS.table}"
        " where file in (select unnest(?::varchar[])) group by file order by all",
        [files],
    )
    return list(rows.iter_rows())


def _whole(store: Store) -> list[Span]:
    store.run(f"delete from {TABLE}")
    first, last = store.read(f"select min(stamped_at_utc), max(stamped_at_utc) from {EVENTS.table}").row(0)
    return [] if first is None else [(first, last)]


def _joined(spans: Iterable[Span]) -> list[Span]:
    """The spans with those that touch made one."""
    joined: list[Span] = []
    for first, last in sorted(spans):
        if joined and first <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(last, joined[-1][1]))
        else:
            joined.append((first, last))
    return joined


def _parts(store: Store, first: datetime, last: datetime) -> list[Span]:
    """The span cut into parts of the same length, of about as many rows as are looked at together."""
    count = store.value(f"select count(*) from {EVENTS.table} where stamped_at_utc between ? and ?", [first, last])
    parts = max(1, -(-count // ROWS_AT_ONCE))
    edges = [first + (last - first) * number / parts for number in range(parts)]
    tick = datetime.resolution
    return [*((start, end - tick) for start, end in pairwise(edges)), (edges[-1], last)]

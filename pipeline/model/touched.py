"""From which instant on the lines of each machine differ from those that the tables were made of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from pipeline.model.marks import LINES, SEGMENTS, has_marks, note_lines
from pipeline.sql_files import Model
from pipeline.store import Store

WAS = "built_lines_before"
FIRST = datetime(1, 1, 1)  # noqa: DTZ001 - naive UTC, as in all tables; before every line
# Of a file that has only grown, the lines before what was appended are as they were: but for those in an hour that the
# clock went through twice, which the lines that follow may have settled.
NEW_LINES = f"""
with
was as (select * from {WAS}),
now as (select * from {LINES}),
grown as (
    select n.file, max(b.last_line) as last_line
    from (select distinct file, sha256, reading from now) as n
    inner join was as b on n.file = b.file and n.reading = b.reading
    inner join load_history as h
        on n.file = h.file and h.action = 'grown' and h.was_sha256 = b.sha256 and h.sha256 = n.sha256
    group by n.file
),
gone as (
    select machine, first_stamped_at_utc as at_utc
    from was
    where (file, sha256, reading) not in (select (file, sha256, reading) from now)
        and file not in (select file from grown)
),
come as (
    select machine, first_stamped_at_utc as at_utc
    from now
    where (file, sha256, reading) not in (select (file, sha256, reading) from was)
        and file not in (select file from grown)
),
appended as (
    select e.machine, min(e.stamped_at_utc) as at_utc
    from raw_events as e
    inner join grown as g on e.file = g.file
    where e.line > g.last_line or e.is_ambiguous
    group by e.machine
),
each_way as (
    select * from gone
    union all
    select * from come
    union all
    select * from appended
)
select machine, min(at_utc) as at_utc from each_way group by machine
"""
# A clock that is corrected otherwise than before moves its lines from the first stretch on that differs.
MOVED = f"""
with
fields as (
    select
        side, machine, segment_no, started_at_utc, ended_at_utc, is_corrected,
        case when is_corrected then reference_at_utc end as reference_at_utc,
        case when is_corrected then offset_s end as offset_s,
        case when is_corrected then drift_ppm end as drift_ppm
    from (select 'was' as side, * from {SEGMENTS} union all select 'now', * from raw_clock_segments) as both_times
),
corrected as (select distinct machine from fields where is_corrected),
differing as (
    select machine, segment_no, min(coalesce(started_at_utc, timestamp '0001-01-01')) as at_utc
    from fields
    where machine in (select machine from corrected)
    group by machine, segment_no, started_at_utc, ended_at_utc, is_corrected, reference_at_utc, offset_s, drift_ppm
    having count(*) < 2
)
select machine, min(at_utc) as at_utc from differing group by machine
"""
# By how much a line can lie before its stamp on the house clock, at most, in a stretch that has an end.
REACH = f"""
with corrected as (
    select * from {SEGMENTS} where is_corrected
    union all
    select * from raw_clock_segments where is_corrected
)
select machine, max(abs(offset_s) + 86400 + 0.001 * (
    abs(coalesce(date_diff('second', started_at_utc, reference_at_utc), 0))
    + coalesce(abs(date_diff('second', reference_at_utc, ended_at_utc)), 0)
)) as reach_s
from corrected
group by machine
"""
# Whether a machine logs `alive` or `lock` at all says how all its lines are read.
HABITS = """
    select machine, sum(alive_count) > 0 as logs_alive, sum(lock_count) > 0 as logs_lock from {} group by machine
"""


@dataclass(frozen=True)
class Touched:
    """Machines with lines new, gone or moved, and for each the first instant of house time at which any may lie.

    ``habits``: machines that have begun or ceased to log `alive` or `lock`, so that all their lines are read otherwise.
    """

    since: dict[str, datetime]
    habits: frozenset[str]

    @property
    def first_at(self) -> datetime | None:
        """The first of those instants; None: no line differs."""
        return min(self.since.values(), default=None)


def find_touched(store: Store, models: Iterable[Model]) -> Touched | None:
    """What differs from what the tables were made of; None where no such tables stand, so that all are to be made.

    Brings ``built_lines`` up to date on the way.
    """
    if not has_marks(store, models):
        return None
    store.run(f"create or replace table {WAS} as select * from {LINES}")
    note_lines(store)
    since = dict(store.read(NEW_LINES).iter_rows())
    for machine, at in store.read(MOVED).iter_rows():
        since[machine] = min(at, since.get(machine, at))
    reach = dict(store.read(REACH).iter_rows())
    habits = _habits(store)
    store.run(f"drop table {WAS}")
    return Touched({machine: _earlier(at, reach.get(machine, 0.0)) for machine, at in since.items()}, habits)


def _earlier(at: datetime, reach_s: float) -> datetime:
    """``at`` earlier by the reach, or FIRST where that is before all time."""
    return at - timedelta(seconds=reach_s) if at - FIRST > timedelta(seconds=reach_s) else FIRST


def _habits(store: Store) -> frozenset[str]:
    was, now = (set(store.read(HABITS.format(table)).iter_rows()) for table in (WAS, LINES))
    return frozenset(machine for machine, *_ in was ^ now)

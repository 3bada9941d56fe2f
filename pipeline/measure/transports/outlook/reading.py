"""What the outlook is made of: each machine's protect switches on its own running age, its weeks, its starts.

Heavy tables are added up in the database; what comes out is some numbers a machine. The judging of them needs no
database, so that simulated rooms and published records go through the same doors.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.measure.local_hours import FIRST, LAST
from pipeline.settings import Settings
from pipeline.store import Store

FloatArray = NDArray[np.float64]
FITTED = 2 / 3  # share of the time on which a forecast is fitted when it is tried on the rest
LEAST_AGE_H = 1 / 3600  # a power law has no event at age 0: one at the first instant of air is placed a second later
MOST_STARTS = 400  # of a machine; with more, weeks stand for them
NO_WEEK = np.zeros(1, dtype=np.int64)  # where the zone has no weeks, such as after the year 9998: all is one
SPAN = "select min(started_at_utc) as started_at_utc, max(ended_at_utc) as ended_at_utc from core_air_spans"
# Running age at an instant: the sum of (instant − start) over all stretches begun less that of (instant − end) over
# all ended. It is right too where a machine feeds two channels at once.
AGES = """
with
air as (select feed as machine, started_at_utc, ended_at_utc from core_air_spans where feed <> 'standby'),
marks as (
    select from_machine as machine, at_utc, 'switch' as mark from core_switches where is_protect
    union all
    select distinct machine, cast($1 as timestamp), 'cut' from air
    union all
    select distinct machine, cast($2 as timestamp), 'end' from air
),
points as (
    select machine, started_at_utc as at_utc, 1 as step, null as mark from air
    union all
    select machine, ended_at_utc, -1, null from air
    union all
    select machine, at_utc, 0, mark from marks
),
placed as (select *, date_diff('microsecond', cast($3 as timestamp), at_utc) as at_us from points),
summed as (
    select
        machine,
        mark,
        at_us,
        sum(step) over so_far as open_count,
        sum(step * at_us) over so_far as open_us
    from placed
    window so_far as (partition by machine order by at_us, step rows between unbounded preceding and current row)
)
select machine, mark, (open_count * at_us - open_us) / 3600000000.0 as age_h
from summed
where mark is not null
order by machine, at_us, mark
"""
WEEK_HOURS = """
with
weeks as (select unnest($1::timestamp[]) as started_at_utc, unnest($2::timestamp[]) as ended_at_utc),
numbered as (select *, row_number() over (order by started_at_utc) - 1 as week_no from weeks),
air as (select feed as machine, started_at_utc, ended_at_utc from core_air_spans where feed <> 'standby')
select
    a.machine,
    w.week_no,
    sum(date_diff(
        'microsecond', greatest(a.started_at_utc, w.started_at_utc), least(a.ended_at_utc, w.ended_at_utc)
    )) / 3600000000.0 as air_h
from air as a
inner join numbered as w on a.started_at_utc < w.ended_at_utc and a.ended_at_utc > w.started_at_utc
group by a.machine, w.week_no
order by a.machine, w.week_no
"""
SERVICE = """
with
air as (
    select feed as machine, min(started_at_utc) as first_air_at_utc
    from core_air_spans
    where feed <> 'standby'
    group by feed
)
select a.machine, a.first_air_at_utc, m.installed_at_utc, m.retired_at_utc
from air as a
left join clean_machines as m on a.machine = m.machine
order by a.machine
"""
LOSSES = """
select coalesce(r.to_air_s, 0.0) as lost_s
from core_switches as s
left join core_recoveries as r on s.switch_no = r.switch_no
where s.is_protect
order by lost_s
"""
SIGNS = """
with
begun as (select cast($1 as timestamp) as at_utc),
readings as (
    select machine, 'lock' as sign, at_utc, lock_s as value_s from core_starts where lock_s is not null
    union all
    select machine, 'offset', at_utc, abs(first_offset_s) from core_starts where first_offset_s is not null
),
placed as (
    select
        machine,
        sign,
        date_diff('microsecond', begun.at_utc, readings.at_utc) / 86400000000.0 as day,
        value_s,
        count(*) over (partition by machine, sign) as starts_count
    from readings
    cross join begun
),
single as (select * from placed where starts_count <= $2),
weekly as (
    select machine, sign, 7 * floor(day / 7) + 3.5 as day, median(value_s) as value_s, starts_count
    from placed
    where starts_count > $2
    group by machine, sign, floor(day / 7), starts_count
)
select * from single
union all
select * from weekly
order by machine, sign, day, value_s
"""
STARTED = "select distinct machine from core_starts order by machine"


@dataclass(frozen=True, eq=False)
class Watch:
    """One machine's record. Ages are hours on air since the data begin; the watch ends at a set time."""

    machine: str
    events_h: FloatArray  # ages of the protect switches away from it, ascending
    end_h: float  # above 0
    cut_h: float  # age at the end of the part a replay is fitted on
    watched_h: float  # hours by the clock in which it could have been used
    week_no: NDArray[np.int64]  # the weeks in which it fed air
    week_h: FloatArray  # hours on air of those weeks, each above 0
    is_retired: bool = False


@dataclass(frozen=True, eq=False)
class Sign:
    """Readings of a leading sign of one machine: seconds to lock, or of the first offset either way, by start."""

    machine: str
    sign: str  # "lock" or "offset"
    days: FloatArray  # since the data begin
    values_s: FloatArray
    starts_count: int
    by_week: bool  # a reading is the median of a week


@dataclass(frozen=True, eq=False)
class Material:
    """All the judging needs. ``weeks`` are the local days on which the weeks begin, by week number."""

    watches: tuple[Watch, ...]
    losses_s: FloatArray  # seconds of air lost with each protect switch of the room, 0 where none
    span_h: float  # hours by the clock from the first air to the last
    cut_day: float
    weeks: tuple[str, ...] = ()
    signs: tuple[Sign, ...] = ()
    without_lock: tuple[str, ...] = ()  # machines that started and never log lock


def read_material(store: Store, settings: Settings) -> Material:
    """Read ``core_air_spans``, ``core_switches``, ``core_recoveries``, ``core_starts`` and ``clean_machines``.

    A machine that has fed no air is left out. Without air there is no watch.
    """
    span = store.read(SPAN).row(0, named=True)
    begins, ends = span["started_at_utc"], span["ended_at_utc"]
    if begins is None:
        return Material((), np.zeros(0), 0.0, 0.0)
    weeks = list(local_weeks(begins, ends, settings))
    signs = tuple(_signs(store.read(SIGNS, [begins, MOST_STARTS])))
    locking = {sign.machine for sign in signs if sign.sign == "lock"}
    return Material(
        watches=tuple(_watches(store, begins, ends, weeks)),
        losses_s=store.read(LOSSES)["lost_s"].to_numpy(),
        span_h=(ends - begins).total_seconds() / 3600,
        cut_day=FITTED * (ends - begins).total_seconds() / 86400,
        weeks=tuple(day for day, _, _ in weeks),
        signs=signs,
        without_lock=tuple(name for name in store.read(STARTED)["machine"] if name not in locking),
    )


def local_weeks(begins: datetime, ends: datetime, settings: Settings) -> Iterator[tuple[str, datetime, datetime]]:
    """The weeks of the site's broadcast days, from Monday, that meet [begins, ends): first day, start, end in UTC."""
    zone = settings.zone
    first = max(begins.replace(tzinfo=UTC), FIRST).astimezone(zone).date() - timedelta(days=8)
    monday = first - timedelta(days=first.weekday())
    last = min(ends.replace(tzinfo=UTC), LAST)

    def starts(day: Any) -> datetime:
        return datetime.combine(day, settings.day_start, zone).astimezone(UTC).replace(tzinfo=None)

    while (start := starts(monday)) < last.replace(tzinfo=None):
        following = monday + timedelta(days=7)
        end = starts(following)
        if end > begins:
            yield monday.isoformat(), start, end
        monday = following


def _watches(
    store: Store, begins: datetime, ends: datetime, weeks: list[tuple[str, datetime, datetime]]
) -> Iterator[Watch]:
    edges = [[start for _, start, _ in weeks], [end for _, _, end in weeks]]
    instants = [begins + FITTED * (ends - begins), ends, begins]
    hours = {name: rows for (name,), rows in store.read(WEEK_HOURS, edges).group_by("machine", maintain_order=True)}
    ages = {name: rows for (name,), rows in store.read(AGES, instants).group_by("machine", maintain_order=True)}
    for row in store.read(SERVICE).iter_rows(named=True):
        mine, by_week = ages[row["machine"]], hours.get(row["machine"])
        age = {mark: mine.filter(pl.col("mark") == mark)["age_h"].to_numpy() for mark in ("switch", "cut", "end")}
        end_h = float(age["end"][0])
        if end_h <= 0:
            continue
        yield Watch(
            machine=row["machine"],
            events_h=np.clip(age["switch"], min(LEAST_AGE_H, end_h), end_h),
            end_h=end_h,
            cut_h=float(age["cut"][0]),
            watched_h=_watched_h(row, begins, ends),
            week_no=NO_WEEK if by_week is None else by_week["week_no"].to_numpy(),
            week_h=np.array([end_h]) if by_week is None else by_week["air_h"].to_numpy(),
            is_retired=row["retired_at_utc"] is not None and row["retired_at_utc"] <= ends,
        )


def _watched_h(row: Mapping[str, Any], begins: datetime, ends: datetime) -> float:
    """Hours from the start of the data, or from its installation where that is later, to the end of the data."""
    installed = row["installed_at_utc"] or begins
    since = min(max(begins, installed), row["first_air_at_utc"])
    return float((ends - since).total_seconds() / 3600)


def _signs(readings: pl.DataFrame) -> Iterator[Sign]:
    for (machine, sign), rows in readings.group_by("machine", "sign", maintain_order=True):
        starts = int(rows["starts_count"][0])
        days, values = rows["day"].to_numpy(), rows["value_s"].to_numpy()
        yield Sign(str(machine), str(sign), days, values, starts, by_week=starts > MOST_STARTS)

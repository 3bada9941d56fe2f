"""The work that each transport was given: hours and events by the age of the reel and the part of the day.

Easy work given to a bad machine hides it, and hard work given to a good one slanders it. Hours and events are put into
the same classes of work by one and the same rule, so that each machine can be held against what others did with like
work.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.measure.local_hours import DAY_US, HOUR_US, hour_of, steady_stretches
from pipeline.measure.pattern_exposures import AIR
from pipeline.measure.transports.rates.ages import NOT_KNOWN, age_class, age_cuts, age_names
from pipeline.store import Store

PARTS = ("00:00 to 06:00", "06:00 to 12:00", "12:00 to 18:00", "18:00 to 24:00")  # of the local day
PART_H = 24 // len(PARTS)
JUST = timedelta(microseconds=1)
AGE = """
    case when s.started_at_utc >= r.recorded_at_utc
        then cast(floor(date_diff('microsecond', r.recorded_at_utc, s.started_at_utc) / 86.4e9) as bigint)
    end as age_days
"""
STRETCHES = {
    "air": f"""
select s.channel, s.machine, s.started_at_utc, s.ended_at_utc, {AGE}
from ({AIR}) as s
left join clean_reels as r on s.reel = r.reel
where s.machine is not null
order by s.started_at_utc, s.channel, s.machine
""",
    "protect": f"""
select s.channel, s.machine, s.started_at_utc, s.ended_at_utc, {AGE}
from core_air_others as s
left join clean_bookings as b
    on b.role in ('air', 'protect')
    and s.channel = b.channel and s.transmission = b.transmission and s.machine = b.machine
    and b.started_at_utc <= s.started_at_utc and b.ended_at_utc > s.started_at_utc
left join clean_reels as r on b.reel = r.reel
where s.condition = 'covering'
qualify row_number() over (
    partition by s.channel, s.started_at_utc, s.machine order by b.started_at_utc desc nulls last, b.booking desc
) = 1
order by s.started_at_utc, s.channel, s.machine
""",
}
# As in metric_events and metric_protect, but one row an event. An occasion is an incident; losses of cover are in no
# incident, so those of a machine that come within the incident gap of the one before are one occasion.
EVENTS = {
    "air": """
select
    s.channel,
    s.from_machine as machine,
    s.at_utc,
    coalesce(cast(i.incident as varchar), 'switch ' || s.switch_no) as occasion
from core_switches as s
left join core_recoveries as c on s.switch_no = c.switch_no
left join core_incident_recoveries as i on c.recovery_no = i.recovery_no
where s.is_protect
order by s.at_utc, s.channel, machine
""",
    "protect": """
with
losses as (
    select c.channel, c.machine, n.started_at_utc as at_utc
    from core_air_others as c
    inner join core_air_segments as n
        on c.channel = n.channel and c.piece_started_at_utc = n.piece_started_at_utc
        and c.ended_at_utc = n.started_at_utc and c.feed = n.feed
    inner join core_air_states as a
        on n.channel = a.channel and n.started_at_utc = a.started_at_utc and a.state in ('unproved', 'exposed')
    inner join core_air_others as o
        on n.channel = o.channel and n.started_at_utc = o.started_at_utc and c.machine = o.machine
    where c.condition = 'covering' and o.condition <> 'covering'
),
apart as (
    select
        l.*,
        case when l.at_utc < lag(l.at_utc) over (partition by l.machine order by l.at_utc) + s.incident_gap_time
            then 0 else 1 end as is_first
    from losses as l
    cross join core_settings as s
)
select channel, machine, at_utc,
    cast(sum(is_first) over (
        partition by machine order by at_utc, channel rows between unbounded preceding and current row
    ) as varchar) as occasion
from apart
order by at_utc, channel, machine
""",
}


@dataclass(frozen=True)
class Work:
    """The hours and events of one measure, by machine and class of work.

    ``machines``: names, n of them, each with hours. ``counts`` and ``occasions``: events, and how many occasions they
    came on, shape (n,). ``hours``: shape (n,). ``class_counts`` and ``class_hours``: shape (n, classes), the events
    whose class is known and all the hours. ``classes``: age class and part of the day of each class.
    """

    measure: str
    machines: tuple[str, ...]
    counts: NDArray[np.int64]
    occasions: NDArray[np.int64]
    hours: NDArray[np.float64]
    class_counts: NDArray[np.int64]
    class_hours: NDArray[np.float64]
    classes: tuple[tuple[str, str], ...]


def read_work(store: Store, zone: ZoneInfo) -> list[Work]:
    """The work of both measures, ``air`` (protect switches) and ``protect`` (losses of cover).

    Ages are whole days from the recording to the start of a stretch of one reel; their classes are cut where a quarter,
    half and three quarters of the room's air hours of known age lie below, so that the events do not choose them. The
    reel is the one booked (see ``pattern_exposures``), for protect at the stretch's start. An event falls in the
    stretch that it ends. Reads ``core_*``, ``clean_bookings`` and ``clean_reels``; writes nothing.
    """
    cuts: Sequence[int] | None = None
    found = []
    for measure, sql in STRETCHES.items():
        stretches, events = store.read(sql), store.read(EVENTS[measure])
        days = days_of_work(stretches, zone)
        cuts = age_cuts(days) if cuts is None else cuts
        found.append(gather_work(measure, days, place_events(events, stretches, zone), cuts))
    return found


def days_of_work(stretches: pl.DataFrame, zone: ZoneInfo) -> pl.DataFrame:
    """machine, age_days, part (0 to 3) and exposure_us of the stretches, summed; every microsecond in one row."""
    parts = microseconds_by_part(stretches, zone)
    columns = {str(part): parts[:, part] for part in range(len(PARTS))}
    return (
        stretches.select("machine", "age_days")
        .with_columns(pl.Series(name, values, dtype=pl.Int64) for name, values in columns.items())
        .unpivot(index=["machine", "age_days"], on=list(columns), variable_name="part", value_name="exposure_us")
        .with_columns(pl.col("part").cast(pl.Int64))
        .group_by("machine", "age_days", "part", maintain_order=True)
        .agg(pl.col("exposure_us").sum())
        .filter(pl.col("exposure_us") > 0)
        .sort("machine", "age_days", "part")
    )


def microseconds_by_part(stretches: pl.DataFrame, zone: ZoneInfo) -> NDArray[np.int64]:
    """How much of each stretch falls in each part of the local day, shape (stretches, parts); rows add up exactly."""
    total = np.zeros((stretches.height, len(PARTS)), dtype=np.int64)
    if stretches.is_empty():
        return total
    starts, ends = (
        stretches[name].cast(pl.Datetime("us")).to_physical().to_numpy() for name in ("started_at_utc", "ended_at_utc")
    )
    for begins, stops, offset in steady_stretches(int(starts.min()), int(ends.max()), zone):
        low, high = np.clip(starts, begins, stops) + offset, np.clip(ends, begins, stops) + offset
        for part in range(len(PARTS)):
            total[:, part] += _until(high, part) - _until(low, part)
    return total


def _until(wall: NDArray[np.int64], part: int) -> NDArray[np.int64]:
    """Microseconds of that part of every day from the epoch to the wall time."""
    length = PART_H * HOUR_US
    whole: NDArray[np.int64] = wall // DAY_US * length + np.clip(wall % DAY_US - part * length, 0, length)
    return whole


def place_events(events: pl.DataFrame, stretches: pl.DataFrame, zone: ZoneInfo) -> pl.DataFrame:
    """The events with age_days and part of the stretch that each ends; part is null where no stretch ends there.

    An event ends a stay, so one on the stroke of an hour belongs to the hour before.
    """
    held = stretches.select("channel", "machine", "started_at_utc", "ended_at_utc", "age_days")
    joined = events.sort("at_utc").join_asof(
        held.sort("started_at_utc"),
        left_on="at_utc", right_on="started_at_utc", by=["channel", "machine"], strategy="backward",
        allow_exact_matches=False, check_sortedness=False,
    )  # fmt: skip
    parts = pl.Series("part", [hour_of(at - JUST, zone) // PART_H for at in joined["at_utc"]], dtype=pl.Int64)
    is_held = pl.col("ended_at_utc") >= pl.col("at_utc")
    return joined.with_columns(parts).with_columns(
        pl.when(is_held).then(pl.col("part")).alias("part"), pl.when(is_held).then(pl.col("age_days")).alias("age_days")
    )


def gather_work(measure: str, days: pl.DataFrame, events: pl.DataFrame, cuts: Sequence[int]) -> Work:
    """Hours and events of every machine with hours, by class; an event in a class without hours of its machine is
    counted with the machine and in no class."""
    machines = days["machine"].unique().sort().to_list()
    ages = [*age_names(cuts), NOT_KNOWN]
    classes = tuple((age, part) for age in ages for part in PARTS)
    hours = np.zeros((len(machines), len(classes)))
    place = {name: at for at, name in enumerate(machines)}
    column = {name: at for at, name in enumerate(classes)}
    for machine, age, part, exposure_us in days.iter_rows():
        hours[place[machine], column[age_class(age, cuts), PARTS[part]]] += exposure_us / HOUR_US
    counts, class_counts = np.zeros(len(machines), np.int64), np.zeros(hours.shape, np.int64)
    for row in events.iter_rows(named=True):
        at = place.get(row["machine"])
        if at is None:
            continue
        counts[at] += 1
        if row["part"] is not None:
            class_counts[at, column[age_class(row["age_days"], cuts), PARTS[row["part"]]]] += 1
    class_counts[hours == 0.0] = 0
    own = events.group_by("machine", maintain_order=True).agg(pl.col("occasion").n_unique())
    occasions = dict(own.iter_rows())
    return Work(
        measure=measure, machines=tuple(machines), counts=counts,
        occasions=np.array([occasions.get(name, 0) for name in machines], np.int64),
        hours=hours.sum(axis=1), class_counts=class_counts, class_hours=hours, classes=classes,
    )  # fmt: skip

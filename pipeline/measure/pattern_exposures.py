"""The names that each event and each second of air go by: machine, pair, reel, head, recorder, hour of the day.

Whether something comes back can only be told against how much it was used, so events and air time are named by one and
the same rule.
"""

from __future__ import annotations

from zoneinfo import ZoneInfo

import polars as pl

from pipeline.measure.local_hours import HOURS, hour_name, hour_of, microseconds_by_hour
from pipeline.store import Store

KINDS = {
    "machine": "machine",
    "pair": "pair",
    "head serial": "head",
    "reel": "reel",
    "recording machine": "recorded_on",
}
HOUR = "hour of the local day"
# A reel is what the booking of this machine for this transmission says, of two at once the later booking. A head is in
# a machine from its fitting until another is fitted there, or until it is fitted elsewhere.
SOURCES = """
with
plays as (
    select channel, transmission, machine, reel, booking, started_at_utc, ended_at_utc
    from clean_bookings
    where role in ('air', 'protect')
),
fittings as (
    select
        machine,
        detail as head,
        at_utc as started_at_utc,
        least(
            coalesce(lead(at_utc) over (partition by machine order by at_utc, event_no), timestamp '9999-12-31'),
            coalesce(
                case when detail is not null
                    then lead(at_utc) over (partition by detail order by at_utc, event_no)
                end,
                timestamp '9999-12-31'
            )
        ) as ended_at_utc
    from core_words
    where event = 'head_fitted'
),
heads as (select * from fittings where ended_at_utc > started_at_utc),
pairs as (
    select machine, least(machine, partner) || ' and ' || greatest(machine, partner) as pair from core_partners
),
"""
AIR = (
    SOURCES
    + """
air as (
    select channel, transmission, started_at_utc, ended_at_utc, nullif(feed, 'standby') as machine
    from core_air_spans
),
edges as (
    select channel, started_at_utc, started_at_utc as at_utc from air
    union
    select a.channel, a.started_at_utc, unnest([p.started_at_utc, p.ended_at_utc])
    from air as a
    inner join plays as p
        on a.channel = p.channel and a.transmission = p.transmission and a.machine = p.machine
        and p.started_at_utc < a.ended_at_utc and p.ended_at_utc > a.started_at_utc
    union
    select a.channel, a.started_at_utc, unnest([h.started_at_utc, h.ended_at_utc])
    from air as a
    inner join heads as h
        on a.machine = h.machine and h.started_at_utc < a.ended_at_utc and h.ended_at_utc > a.started_at_utc
),
slices as (
    select
        a.channel,
        a.transmission,
        a.machine,
        e.at_utc as started_at_utc,
        lead(e.at_utc, 1, a.ended_at_utc) over (partition by a.channel, a.started_at_utc order by e.at_utc)
            as ended_at_utc
    from edges as e
    inner join air as a
        on e.channel = a.channel and e.started_at_utc = a.started_at_utc
        and e.at_utc >= a.started_at_utc and e.at_utc < a.ended_at_utc
),
named as (
    select s.*, p.pair, h.head, b.reel, r.recorded_on
    from slices as s
    left join plays as b
        on s.channel = b.channel and s.transmission = b.transmission and s.machine = b.machine
        and b.started_at_utc <= s.started_at_utc and b.ended_at_utc > s.started_at_utc
    left join clean_reels as r on b.reel = r.reel
    left join heads as h
        on s.machine = h.machine and h.started_at_utc <= s.started_at_utc and h.ended_at_utc > s.started_at_utc
    left join pairs as p on s.machine = p.machine
    qualify row_number() over (
        partition by s.channel, s.started_at_utc order by b.started_at_utc desc nulls last, b.booking desc
    ) = 1
)
select * from named order by channel, started_at_utc
"""
)
# A switch ends the showing of a reel, so it belongs to the booking that ran up to it; an interruption begins in one.
EVENTS = (
    SOURCES
    + """
incidents as (select recovery_no, incident from core_incident_recoveries where recovery_no is not null),
events as (
    select
        r.recovery_no, n.incident, r.channel, r.machine, r.started_at_utc as at_utc,
        coalesce(i.transmission, r.transmission) as transmission, i.interruption_no is null as is_switch
    from core_recoveries as r
    left join core_interruptions as i on r.interruption_no = i.interruption_no
    left join incidents as n on r.recovery_no = n.recovery_no
),
named as (
    select e.recovery_no, e.incident, e.at_utc, e.machine, p.pair, h.head, b.reel, r.recorded_on
    from events as e
    left join plays as b
        on e.channel = b.channel and e.transmission = b.transmission and e.machine = b.machine
        and case
            when e.is_switch then b.started_at_utc < e.at_utc and b.ended_at_utc >= e.at_utc
            else b.started_at_utc <= e.at_utc and b.ended_at_utc > e.at_utc
        end
    left join clean_reels as r on b.reel = r.reel
    left join heads as h on e.machine = h.machine and h.started_at_utc <= e.at_utc and h.ended_at_utc > e.at_utc
    left join pairs as p on e.machine = p.machine
    qualify row_number() over (
        partition by e.recovery_no order by b.started_at_utc desc nulls last, b.booking desc
    ) = 1
)
select * from named order by recovery_no
"""
)


def air_by_name(store: Store, zone: ZoneInfo) -> pl.DataFrame:
    """Air time by name: kind, name (null: not recorded), exposure_us (whole microseconds fed under that name).

    Reads ``core_air_spans``, ``core_words``, ``core_partners``, ``clean_bookings`` and ``clean_reels``. Each kind
    splits the whole of the room's air time. Standby has an hour of the day and no other name.
    """
    air = store.read(AIR).with_columns(
        exposure_us=(pl.col("ended_at_utc") - pl.col("started_at_utc")).dt.total_microseconds()
    )
    frames = [
        air.group_by(pl.col(column).alias("name"), maintain_order=True)
        .agg(pl.col("exposure_us").sum())
        .select(pl.lit(kind).alias("kind"), "name", "exposure_us")
        for kind, column in KINDS.items()
    ]
    hours = microseconds_by_hour(air, zone)
    rows = [(HOUR, hour_name(hour), hours[hour]) for hour in range(HOURS) if hours[hour]]
    schema = {"kind": pl.String, "name": pl.String, "exposure_us": pl.Int64}
    return pl.concat([*frames, pl.DataFrame(rows, schema=schema, orient="row")]).cast({"name": pl.String})


def events_by_name(store: Store, zone: ZoneInfo) -> pl.DataFrame:
    """The name of every event in every kind: recovery_no, incident, kind, name (null: not recorded).

    An event is an interruption, as one with the first switch inside it that leaves its machine, or a protect switch
    outside one: each row of ``core_recoveries`` once a kind. It goes by the machine left or lost, and by the instant at
    which it began.
    """
    events = store.read(EVENTS)
    hours = [hour_name(hour_of(at, zone)) for at in events["at_utc"]]
    named = events.with_columns(pl.Series("hour", hours, dtype=pl.String))
    columns = {**KINDS, HOUR: "hour"}
    return pl.concat(
        named.select(
            "recovery_no",
            pl.col("incident").cast(pl.String),
            pl.lit(kind).alias("kind"),
            pl.col(column).cast(pl.String).alias("name"),
        )
        for kind, column in columns.items()
    )

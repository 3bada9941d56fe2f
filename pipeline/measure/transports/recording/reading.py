"""What was played on what, and the faults in it: the cells that a fault's player, recorder and reel are told apart by.

A machine that plays the second copy as protect is as good a witness as the one on air, so every machine counts
that ran well while it was booked to play a reel. A fault common to both copies says nothing on either player.
"""

from __future__ import annotations

import polars as pl

from pipeline.measure.coincidences import WITHIN, onsets_select
from pipeline.store import Store

# Of two bookings of one machine at once the later one says which reel is on it. They are found by the day, for all
# pieces of a machine times all its bookings are a square.
PLAYS = """
plays as (
    select machine, booking, role, reel, started_at_utc, ended_at_utc
    from clean_bookings
    where role in ('air', 'protect') and ended_at_utc > started_at_utc
),
booking_edges as (
    select machine, started_at_utc as at_utc from plays
    union
    select machine, ended_at_utc from plays
),
pieces as (
    select
        machine, at_utc as started_at_utc,
        lead(at_utc) over (partition by machine order by at_utc) as ended_at_utc
    from booking_edges
),
plays_by_day as (
    select *, unnest(generate_series(date_trunc('day', started_at_utc), ended_at_utc, interval 1 day)) as day_at_utc
    from plays
),
shown as (
    select p.machine, p.started_at_utc, p.ended_at_utc, b.reel, b.role
    from pieces as p
    inner join plays_by_day as b
        on p.machine = b.machine
        and date_trunc('day', p.started_at_utc) = b.day_at_utc
        and b.started_at_utc <= p.started_at_utc
        and b.ended_at_utc >= p.ended_at_utc
    qualify row_number() over (
        partition by p.machine, p.started_at_utc order by b.started_at_utc desc, b.booking desc
    ) = 1
),
"""
# When a machine ran well: its log says good, and it is believed to roll. Both, and the reel that was on, are counted up
# and down along the machine's time, because joining spans that overlap costs the product of their numbers.
STEPS = """
edges as (
    select machine, started_at_utc as at_utc, 1 as good_step, 0 as rolling_step, 0 as shown_step, null as shown_at_utc
    from core_machine_states
    where state = 'good'
    union all
    select machine, ended_at_utc, -1, 0, 0, null
    from core_machine_states
    where state = 'good' and ended_at_utc is not null
    union all
    select machine, started_at_utc, 0, 1, 0, null from core_rolling_spans
    union all
    select machine, ended_at_utc, 0, -1, 0, null from core_rolling_spans
    union all
    select machine, started_at_utc, 0, 0, 1, started_at_utc from shown
    union all
    select machine, ended_at_utc, 0, 0, -1, null from shown
),
steps as (
    select
        machine, at_utc, true as is_edge, sum(good_step) as good_step, sum(rolling_step) as rolling_step,
        sum(shown_step) as shown_step, max(shown_at_utc) as shown_at_utc
    from edges
    group by machine, at_utc
),
"""
PLAYED = f"""
with
{PLAYS}
{STEPS}
holding as (
    select
        machine, at_utc as started_at_utc,
        lead(at_utc) over (partition by machine order by at_utc) as ended_at_utc,
        sum(good_step) over so_far > 0 and sum(rolling_step) over so_far > 0 as is_good,
        case when sum(shown_step) over so_far > 0 then max(shown_at_utc) over so_far end as shown_at_utc
    from steps
    window so_far as (partition by machine order by at_utc rows between unbounded preceding and current row)
),
played as (
    select s.machine, s.reel, s.role, sum(date_diff('microsecond', h.started_at_utc, h.ended_at_utc)) as exposure_us
    from shown as s
    inner join holding as h on s.machine = h.machine and s.started_at_utc = h.shown_at_utc
    where h.is_good
    group by s.machine, s.reel, s.role
)
select p.machine, p.reel, p.role, l.recorded_on as recorder, l.recorded_by, p.exposure_us
from played as p
left join clean_reels as l on p.reel = l.reel
order by p.machine, p.reel nulls last, p.role
"""
# What held until an instant counts there: the stretch that ends at it belongs to the reel that was on, and so does the
# fault. So of an instant's rows the onset stands before the edge.
FAULTS = f"""
with
begun as (select machine, at_utc, what, recovery_no from ({{onsets}}) as o),
{PLAYS}
{STEPS}
rows_in_order as (
    select * from steps
    union all
    select machine, at_utc, false, 0, 0, 0, null from begun
),
counted as (
    select
        machine, at_utc, is_edge,
        sum(good_step) over so_far > 0 and sum(rolling_step) over so_far > 0 as is_good,
        case when sum(shown_step) over so_far > 0 then max(shown_at_utc) over so_far end as shown_at_utc
    from rows_in_order
    window so_far as (
        partition by machine order by at_utc, is_edge rows between unbounded preceding and current row
    )
),
common as (select distinct machine, at_utc from measure_coincidences where kind = '{WITHIN}'),
placed as (
    select
        o.machine, o.at_utc, o.what, o.recovery_no, s.machine is not null as is_booked, s.reel, s.role,
        c.machine is not null as is_common
    from begun as o
    inner join counted as k on o.machine = k.machine and o.at_utc = k.at_utc and not k.is_edge and k.is_good
    left join shown as s on k.machine = s.machine and k.shown_at_utc = s.started_at_utc
    left join common as c on o.machine = c.machine and o.at_utc = c.at_utc
),
chained as (
    select
        *,
        lag(at_utc) over (partition by machine, reel, role, is_booked, is_common order by at_utc) as before_at_utc
    from placed
),
faults as (
    select
        f.machine, f.at_utc, f.what, f.recovery_no, f.is_booked, f.reel, f.role, f.is_common,
        coalesce(f.at_utc - f.before_at_utc < s.incident_gap_time, false) as is_repeated
    from chained as f
    cross join core_settings as s
)
select * from faults order by machine, at_utc
"""
CELL = ["machine", "reel", "role"]


def read_faults_at_playback(store: Store) -> pl.DataFrame:
    """Every fault that began on a machine that ran well: machine, at_utc, what, recovery_no, reel, role, and its kind.

    The onsets are those of coincidences; recovery_no is null where it was no event on air. ``is_booked``: the machine
    was booked to play (air or protect); reel and role are that booking's. ``is_common``: it began within 5 s of one on
    another machine of the same transmission. ``is_repeated``: it began less than ``incident_gap_s`` after one of the
    same machine, reel and role. Reads what coincidences read, ``core_settings`` and ``measure_coincidences``.
    """
    return store.read(FAULTS.format(onsets=onsets_select(store)))


def read_playback(store: Store, faults: pl.DataFrame) -> pl.DataFrame:
    """One row a machine, reel and role of the booking: also recorder, recorded_by (null: not recorded), and figures.

    ``exposure_h``: hours the machine was booked to play the reel and its log proved it good (lock, picture, sound),
    believed no longer than the carry. ``count``: its faults that are neither common to both copies nor repeated;
    ``air_count``: those of them that were an event on air. A reel null: the booking names none. Reads
    ``clean_bookings``, ``clean_reels``, ``core_machine_moments``, ``core_settings`` and ``core_as_of``.
    """
    counted = (
        faults.filter(pl.col("is_booked") & ~pl.col("is_common") & ~pl.col("is_repeated"))
        .group_by(CELL, maintain_order=True)
        .agg(pl.len().alias("count"), pl.col("recovery_no").is_not_null().sum().alias("air_count"))
    )
    cells = store.read(PLAYED).join(counted, on=CELL, how="left", nulls_equal=True)
    return cells.select(
        *CELL,
        "recorder",
        "recorded_by",
        (pl.col("exposure_us") / 3_600_000_000).alias("exposure_h"),
        *(pl.col(name).fill_null(0).cast(pl.Int64) for name in ("count", "air_count")),
    ).filter(pl.col("exposure_h") > 0)

-- How long each head and part has been in a machine: from its fitting until the next of its kind there, and not after.
-- A head also ends when its serial is fitted elsewhere; any ends when its machine is retired. A part's kind is its detail
-- in small letters, single blanks and without a marked serial ("belt sn 12"); a bare serial names no kind and is no row.
-- Of fittings of a kind at one instant the last counts. rolled_s is the time its machine rolled, as far as is logged.
-- grain: one fitting whose kind is known
-- key: machine, kind, started_at_utc
-- reads: core_word_rows, core_rolling_spans, core_as_of, clean_machines
with
events as (select * from core_word_rows where event in ('head_fitted', 'part_fitted')),
rolling as (select * from core_rolling_spans),
latest as (select as_of_at_utc from core_as_of),
machines as (select machine, retired_at_utc from clean_machines),
cleaned as (
    select
        event_no,
        machine,
        event,
        at_utc,
        detail,
        trim(regexp_replace(
            regexp_replace(lower(trim(detail)), '\s+', ' ', 'g'),
            ' ?(#|\b(s/n|sn|ser|serial)\b)[ .:]*(no[ .:]*)?\S*[0-9]\S*$',
            ''
        )) as name
    from events
),
fittings as (
    select
        event_no,
        machine,
        at_utc,
        detail,
        case when event = 'head_fitted' then 'head' else name end as kind,
        case when event = 'head_fitted' then lower(trim(detail)) end as serial
    from cleaned
    where event = 'head_fitted'
        or regexp_replace(name, '\p{L}\p{L}\p{L}', '') <> name
        or (name <> '' and regexp_replace(name, '[0-9]', '') = name)
),
followed as (
    select
        f.*,
        lead(f.at_utc) over (partition by f.machine, f.kind order by f.at_utc, f.event_no) as next_at_utc,
        case
            when f.serial is not null
            then lead(f.at_utc) over (partition by f.serial order by f.at_utc, f.event_no)
        end as moved_at_utc,
        case
            when f.serial is not null
            then lag(f.at_utc) over (partition by f.serial order by f.at_utc, f.event_no)
        end is not null as was_fitted_before,
        case when m.retired_at_utc <= l.as_of_at_utc then m.retired_at_utc end as retired_at_utc,
        l.as_of_at_utc
    from fittings as f
    left join machines as m on f.machine = m.machine
    cross join latest as l
),
placed as (
    select
        *,
        coalesce(next_at_utc, as_of_at_utc) as next_until_utc,
        coalesce(moved_at_utc, as_of_at_utc) as moved_until_utc,
        case when retired_at_utc >= at_utc then retired_at_utc else as_of_at_utc end as retired_until_utc
    from followed
),
ended as (
    select *, least(next_until_utc, moved_until_utc, retired_until_utc) as until_utc from placed
),
lives as (
    select
        *,
        case
            when next_at_utc = until_utc then 'next'
            when moved_at_utc = until_utc then 'moved'
            when retired_at_utc = until_utc then 'retired'
            else 'running'
        end as ended_by
    from ended
    where until_utc > at_utc or next_at_utc is null
),
edges as (
    select machine, at_utc from lives
    union
    select machine, until_utc from lives
),
-- Rolling spans of a machine do not overlap, so of those begun before an edge only the last can reach past it.
timeline as (
    select machine, at_utc, 0 as rolled_us, null as ended_at_utc, 1 as is_edge from edges
    union all
    select machine, started_at_utc, date_diff('microsecond', started_at_utc, ended_at_utc), ended_at_utc, 0 from rolling
),
begun as (
    select
        *,
        sum(rolled_us) over (
            partition by machine order by at_utc, is_edge rows between unbounded preceding and current row
        ) as begun_us,
        max(ended_at_utc) over (
            partition by machine order by at_utc, is_edge rows between unbounded preceding and current row
        ) as last_ended_at_utc
    from timeline
),
rolled as (
    select
        machine,
        at_utc,
        begun_us - greatest(0, coalesce(date_diff('microsecond', at_utc, last_ended_at_utc), 0)) as rolled_us
    from begun
    where is_edge = 1
),
measured as (
    select
        l.machine,
        l.kind,
        l.detail,
        l.was_fitted_before,
        l.at_utc as started_at_utc,
        case when l.ended_by <> 'running' then l.until_utc end as ended_at_utc,
        l.ended_by,
        date_diff('microsecond', l.at_utc, l.until_utc) * 0.000001 as in_place_s,
        (b.rolled_us - a.rolled_us) * 0.000001 as rolled_s
    from lives as l
    inner join rolled as a on l.machine = a.machine and l.at_utc = a.at_utc
    inner join rolled as b on l.machine = b.machine and l.until_utc = b.at_utc
)
select * from measured

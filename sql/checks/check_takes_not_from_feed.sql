-- Takes inside a piece whose from_machine is not the source the selector was on. Before the first take of a piece that
-- is where the last take left it, if that take still counts there and left it on a source that fits.
-- grain: one take
-- key: file, line
-- reads: core_takes, core_pieces, core_members, core_settings
with
takes as (select * from core_takes),
pieces as (select * from core_pieces),
settings as (select * from core_settings),
ordered as (
    select
        *,
        lag(at_utc) over (partition by channel order by take_no) as last_at_utc,
        lag(to_machine) over (partition by channel order by take_no) as feed
    from takes
),
differing as (
    select o.*, p.transmission, p.started_at_utc as piece_started_at_utc
    from ordered as o
    inner join pieces as p
        on o.channel = p.channel and o.at_utc >= p.started_at_utc and o.at_utc < p.ended_at_utc
    where o.from_machine <> o.feed
),
placed as (
    select
        d.*,
        d.last_at_utc >= d.piece_started_at_utc as is_inside,
        d.piece_started_at_utc - d.last_at_utc <= s.lead_time
        or exists (
            select 1
            from pieces as q
            where q.channel = d.channel
                and d.last_at_utc >= q.started_at_utc
                and d.last_at_utc < q.ended_at_utc
                and q.ended_at_utc <= d.piece_started_at_utc
                and q.ended_at_utc >= d.piece_started_at_utc - s.lead_time
        ) as is_fresh,
        d.feed in ('standby', 'other')
        or exists (
            select 1
            from core_members as m
            where m.channel = d.channel
                and m.transmission = d.transmission
                and m.machine = d.feed
                and m.started_at_utc <= d.piece_started_at_utc
                and m.ended_at_utc > d.piece_started_at_utc
        ) as is_fitting
    from differing as d
    cross join settings as s
),
findings as (
    select
        'switches' as feed,
        file,
        line,
        'a take on ' || channel || ' is from "' || from_machine
        || '", while the selector was on "' || feed || '"' as what
    from placed
    where is_inside or (is_fresh and is_fitting)
)
select * from findings

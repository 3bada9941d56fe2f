-- Takes inside a piece whose from_machine is not the source the selector was on. Before the first take of a piece that
-- is where the last take left it, if that take still counts there and left it on a source that fits.
-- grain: one take
-- key: file, line
-- reads: core_takes, core_pieces, core_last_takes
with
takes as (select * from core_takes),
pieces as (select * from core_pieces),
last_takes as (select * from core_last_takes),
ordered as (
    select
        *,
        lag(at_utc) over (partition by channel order by take_no) as last_at_utc,
        lag(to_machine) over (partition by channel order by take_no) as feed
    from takes
),
differing as (
    select o.*, p.started_at_utc as piece_started_at_utc
    from ordered as o
    inner join pieces as p
        on o.channel = p.channel and o.at_utc >= p.started_at_utc and o.at_utc < p.ended_at_utc
    where o.from_machine <> o.feed
),
believed as (
    select d.*
    from differing as d
    left join last_takes as l on d.channel = l.channel and d.piece_started_at_utc = l.piece_started_at_utc
    where d.last_at_utc >= d.piece_started_at_utc or (l.is_fresh and l.is_fitting)
),
findings as (
    select
        'switches' as feed,
        file,
        line,
        'a take on ' || channel || ' is from "' || from_machine
        || '", while the selector was on "' || feed || '"' as what
    from believed
)
select * from findings

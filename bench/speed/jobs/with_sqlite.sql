-- The job in SQLite's dialect: no asof join, so the last row before an instant is looked up by an index; no ignoring of
-- nulls, so what was last said is carried as the greatest of (number of the line, word); a cast gives a column the kind
-- that an index needs, a cross join keeps the order of joining, a plus keeps an index
-- out. Tables that are there already:
-- events, switches, bookings, machines (readable rows, each once), rule (one row: lengths in microseconds).

create table habits as
select machine, max(event = 'lock') as logs_lock, max(event = 'alive') as logs_alive, min(at_us) as first_us
from events group by machine;

create table silences as
select machine, cast(at_us + silence_us as integer) as start_us, next_us as end_us
from (
    select machine, at_us, lead(at_us) over (partition by machine order by at_us) as next_us
    from events where machine in (select machine from habits where logs_alive)
), rule
where next_us is null or next_us > at_us + silence_us;
create index silences_by_time on silences (machine, start_us);

-- Runs of each machine, from its turns.
create table told as
select
    machine, at_us, event,
    row_number() over (partition by machine order by at_us, case event
        when 'stop' then 1 when 'roll' then 2 when 'unlock' then 3 when 'lock' then 4
        when 'picture_lost' then 5 when 'sound_lost' then 5 else 6 end) as turn
from events
where event in ('roll', 'stop', 'lock', 'unlock', 'picture_lost', 'picture_back', 'sound_lost', 'sound_back');

create table runs as
with
moving as (
    select
        *,
        max(case event when 'roll' then 2 * turn + 1 when 'stop' then 2 * turn end) over (
            partition by machine order by turn rows between unbounded preceding and 1 preceding
        ) % 2 as was_rolling,
        case event when 'roll' then (
            select max(e.at_us) from events as e where e.machine = told.machine and e.at_us < told.at_us
        ) end as heard_us
    from told
)
select
    machine, at_us, event, turn,
    sum(case
        when event = 'stop' then 1
        when event <> 'roll' then 0
        when was_rolling = 1 and at_us - heard_us <= carry_us then 0
        else 1
    end) over (partition by machine order by turn rows unbounded preceding) as run
from moving, rule;

create table turns as
with
latest as (
    select
        *,
        run > 0 and first_value(event) over so_far = 'roll' as is_rolling,
        max(case event when 'lock' then 2 * turn + 1 when 'unlock' then 2 * turn end) over so_far % 2 as locked,
        coalesce(
            max(case event when 'picture_lost' then 2 * turn + 1 when 'picture_back' then 2 * turn end) over so_far % 2, 0
        ) or coalesce(
            max(case event when 'sound_lost' then 2 * turn + 1 when 'sound_back' then 2 * turn end) over so_far % 2, 0
        ) as is_lost
    from runs
    window so_far as (partition by machine, run order by turn rows unbounded preceding)
),
held as (
    select l.*, is_rolling and coalesce(locked, not h.logs_lock) as is_running
    from latest as l inner join habits as h on l.machine = h.machine
)
select
    machine, at_us, turn, run, is_rolling, is_running,
    case
        when is_running and not is_lost then 'good'
        when run > 0 or is_lost or locked = 0 then 'not good'
        else 'not known'
    end as state
from held;
create index turns_by_time on turns (machine, at_us, turn);

create table states as
with
stamps as (
    select machine, at_us from turns
    union select machine, start_us from silences
    union select machine, end_us from silences where end_us is not null
),
judged as (
    select
        s.machine, s.at_us,
        case
            when exists (
                select 1 from (
                    select q.end_us from silences as q where q.machine = s.machine and q.start_us <= s.at_us
                    order by q.start_us desc limit 1
                ) where end_us is null or end_us > s.at_us
            ) then 'not known'
            else coalesce((
                select t.state from turns as t where t.machine = s.machine and t.at_us <= s.at_us
                order by t.at_us desc, t.turn desc limit 1
            ), 'not known')
        end as state
    from stamps as s
),
compared as (
    select *, lag(state) over (partition by machine order by at_us) as last_state from judged
)
select machine, at_us, state from compared where state is not last_state;
create index states_by_time on states (machine, at_us);

create table running as
with
broken as (
    select
        *, sum(not is_running) over (partition by machine order by turn rows unbounded preceding) as break_no,
        row_number() over (partition by machine, at_us order by turn desc) as from_last
    from turns
),
since as (
    select
        machine, at_us, from_last,
        case when is_running then min(at_us) over (partition by machine, run, break_no, is_running) end as since_us
    from broken
)
select machine, at_us, since_us from since where from_last = 1;
create index running_by_time on running (machine, at_us);

-- Air windows, and whose machine is booked.
create table windows as
with
reached as (
    select *, max(end_us) over (
        partition by channel, transmission order by start_us rows between unbounded preceding and 1 preceding
    ) as reached_us
    from bookings where role = 'air'
),
stretches as (
    select *, sum(start_us > coalesce(reached_us, start_us - 1)) over (
        partition by channel, transmission order by start_us rows unbounded preceding
    ) as stretch
    from reached
),
whole as (
    select
        channel, transmission, cast(min(start_us) as integer) as start_us, cast(max(end_us) as integer) as booked_us
    from stretches group by channel, transmission, stretch
),
as_of as (
    select max(coalesce(max(at_us), 0), coalesce((select max(at_us) from switches), 0)) as last_us from events
)
select
    row_number() over (order by channel, start_us) as piece, channel, transmission, start_us, booked_us,
    cast(min(booked_us, last_us) as integer) as end_us
from whole, as_of where start_us < last_us;
create index windows_by_time on windows (channel, start_us);
create unique index windows_by_number on windows (piece);
create index windows_by_transmission on windows (channel, transmission);

create table takes as
with
placed as materialized (
    select
        row_number() over (order by channel, at_us, from_machine, to_machine) as take, s.*,
        (
            select w.piece from windows as w where w.channel = s.channel and w.start_us <= s.at_us
            order by w.start_us desc limit 1
        ) as near
    from switches as s
)
select p.*, w.piece, w.transmission, w.end_us as piece_end_us
from placed as p left join windows as w on p.near = w.piece and p.at_us < w.end_us;
create index takes_by_time on takes (channel, at_us, take);
create index takes_by_piece on takes (piece, take);

-- The machines of each transmission: booked, or named on the channel.
create table booked as
select channel, transmission, machine, cast(start_us - lead_us as integer) as start_us, end_us
from bookings, rule where role in ('air', 'protect');
create index booked_by_machine on booked (machine, start_us);
create table longest as select cast(max(end_us - start_us) as integer) as length_us from booked;
create index booked_by_transmission on booked (channel, transmission);

create table free as
with
named as (
    select piece, channel, transmission, at_us, to_machine as machine, piece_end_us as end_us, 0 as is_left
    from takes where piece is not null
    union
    select piece, channel, transmission, at_us, from_machine, piece_end_us, 1
    from takes where piece is not null and action = 'take'
)
select * from named as n
where machine is not null and machine not in ('standby', 'other') and not exists (
    select 1 from longest cross join booked as b
    where b.machine = n.machine and b.transmission <> n.transmission and n.at_us >= b.start_us and n.at_us < b.end_us
        and b.start_us >= n.at_us - length_us
);
create index free_by_piece on free (piece, machine);

create table members as
select w.piece, b.machine, b.start_us, b.end_us
from windows as w inner join booked as b on w.channel = b.channel and w.transmission = b.transmission
where b.start_us < +w.end_us and b.end_us > +w.start_us
union
select piece, machine, at_us, end_us from free as f
where not is_left
    or exists (
        select 1 from booked as b
        where +b.machine = f.machine and b.channel = f.channel and b.transmission = f.transmission
            and f.at_us >= +b.start_us and f.at_us < b.end_us
    )
    or exists (
        select 1 from free as t where t.piece = f.piece and t.machine = f.machine and not t.is_left and t.at_us < f.at_us
    )
    or not exists (
        select 1 from rule cross join longest cross join booked as b
        where b.machine = f.machine and +b.channel = f.channel and b.transmission <> f.transmission
            and b.end_us <= f.at_us and b.end_us >= f.at_us - lead_us
            and b.start_us <= f.at_us and b.start_us >= f.at_us - lead_us - length_us
    );
create index members_by_piece on members (piece, machine, start_us);

-- What the selector was on.
create table stays as
with
last_takes as (
    select
        w.piece, w.start_us,
        (
            select t.take from takes as t
            where t.channel = w.channel and t.at_us < w.start_us and t.action = 'take'
            order by t.at_us desc, t.take desc limit 1
        ) as take
    from windows as w
),
left_on as (
    select l.piece, t.to_machine
    from last_takes as l inner join takes as t on l.take = t.take, rule
    where (l.start_us - t.at_us <= lead_us or l.start_us - t.piece_end_us <= lead_us)
        and (t.to_machine in ('standby', 'other') or exists (
            select 1 from members as m
            where m.piece = l.piece and m.machine = t.to_machine and m.start_us <= l.start_us and m.end_us > l.start_us
        ))
)
select
    w.piece, w.start_us as at_us, 0 as take,
    coalesce(
        (select t.from_machine from takes as t where t.piece = w.piece and t.action = 'take' order by t.take limit 1),
        l.to_machine,
        (
            select b.machine from bookings as b
            where b.channel = w.channel and b.transmission = w.transmission and b.role = 'air'
                and b.start_us <= w.start_us and b.end_us > w.start_us
            order by b.start_us desc, b.booking desc limit 1
        )
    ) as feed
from windows as w left join left_on as l on w.piece = l.piece
union all
select piece, at_us, take, to_machine from takes where piece is not null and action = 'take';
create index stays_by_time on stays (piece, at_us, take);

-- From when each machine of a piece is known.
create table present as
with
named as (
    select piece, machine from members
    union
    select piece, feed from stays where feed not in ('standby', 'other')
),
words as (
    select
        n.piece, n.machine, w.start_us, w.end_us,
        (select max(e.at_us) from events as e where e.machine = n.machine and e.at_us <= w.start_us) as last_us,
        (
            select t.is_rolling from turns as t where t.machine = n.machine and t.at_us <= w.start_us
            order by t.at_us desc, t.turn desc limit 1
        ) as is_rolling,
        (select min(e.at_us) from events as e where e.machine = n.machine and e.at_us > w.start_us) as next_us
    from named as n inner join windows as w on n.piece = w.piece
)
select
    piece, machine, start_us, end_us,
    case
        when start_us - last_us <= lead_us then start_us
        when is_rolling and start_us - last_us <= carry_us then start_us
        else next_us
    end as known_us
from words, rule;
create unique index present_by_piece on present (piece, machine);

-- When two machines of a piece were in step.
create table pairs as
select distinct a.machine as one, b.machine as two
from present as a inner join present as b on a.piece = b.piece and a.machine < b.machine;
create unique index pairs_by_name on pairs (one, two);

create table said as
with
names as (select machine from habits union select machine from machines union select machine from bookings),
partners as (
    select a.machine, min(b.machine) as partner
    from machines as a inner join machines as b on a.pair = b.pair and a.machine <> b.machine
    group by a.machine having count(*) = 1
),
resolved as (
    select o.machine, o.at_us, o.value, coalesce(n.machine, p.partner) as partner
    from events as o
    left join names as n on o.detail = n.machine and o.detail <> o.machine
    left join partners as p on o.machine = p.machine
    where o.event = 'offset' and o.value <> ''
)
select
    min(machine, partner) as one, max(machine, partner) as two, at_us,
    max(abs(value)) <= tolerance_s + 1e-9 as is_within
from resolved, rule
where partner is not null
group by 1, 2, 3;
create index said_by_time on said (one, two, at_us);

create table steps as
with
moments as (
    select p.one, p.two, r.at_us from pairs as p inner join running as r on r.machine in (p.one, p.two)
    union
    select p.one, p.two, s.at_us from pairs as p inner join said as s on p.one = s.one and p.two = s.two
),
since as (
    select
        m.*,
        (select since_us from running as r where r.machine = m.one and r.at_us <= m.at_us order by r.at_us desc limit 1) as one_us,
        (select since_us from running as r where r.machine = m.two and r.at_us <= m.at_us order by r.at_us desc limit 1) as two_us
    from moments as m
),
weighed as (
    select
        one, two, at_us,
        case when one_us is not null and two_us is not null then (
            select s.is_within from said as s
            where s.one = since.one and s.two = since.two and s.at_us <= since.at_us and s.at_us >= max(one_us, two_us)
            order by s.at_us desc limit 1
        ) end as is_in_step
    from since
),
compared as (
    select
        *, lag(is_in_step) over (partition by one, two order by at_us) as last_word,
        row_number() over (partition by one, two order by at_us) as word
    from weighed
)
select one, two, at_us, is_in_step from compared where word = 1 or is_in_step is not last_word;
create index steps_by_time on steps (one, two, at_us);

-- Each piece cut wherever anything changes, and judged.
create table slices as
with
points as (
    select piece, at_us from stays
    union
    select p.piece, s.at_us from present as p inner join states as s
        on p.machine = s.machine and s.at_us > p.start_us and s.at_us < p.end_us
    union
    select piece, known_us from present where known_us > start_us and known_us < end_us
    union
    select piece, start_us from members
    union
    select piece, end_us from members
    union
    select a.piece, s.at_us
    from present as a
    cross join present as b on a.piece = b.piece and a.machine < b.machine
    cross join steps as s on a.machine = s.one and b.machine = s.two and s.at_us > a.start_us and s.at_us < a.end_us
),
cut as (
    select w.piece, p.at_us as start_us, w.end_us as piece_end_us
    from points as p inner join windows as w on p.piece = w.piece
    where p.at_us >= w.start_us and p.at_us < w.end_us
)
select
    piece, start_us,
    coalesce(lead(start_us) over (partition by piece order by start_us), piece_end_us) as end_us,
    (
        select f.feed from stays as f where f.piece = cut.piece and f.at_us <= cut.start_us
        order by f.at_us desc, f.take desc limit 1
    ) as feed
from cut;

create table conditions as
select
    s.piece, s.start_us, p.machine, s.feed,
    case when p.known_us <= s.start_us then coalesce((
        select t.state from states as t where t.machine = p.machine and t.at_us <= s.start_us
        order by t.at_us desc limit 1
    ), 'not known') else 'not known' end as state,
    exists (
        select 1 from members as m
        where m.piece = s.piece and m.machine = p.machine and m.start_us <= s.start_us and m.end_us > s.start_us
    ) as is_member
from slices as s inner join present as p on s.piece = p.piece;
create index conditions_by_slice on conditions (piece, start_us, machine);

create table protection as
with
others as (
    select
        *, (
            select t.is_in_step from steps as t
            where t.one = min(c.feed, c.machine) and t.two = max(c.feed, c.machine) and t.at_us <= c.start_us
            order by t.at_us desc limit 1
        ) as is_in_step
    from conditions as c
    where is_member and machine <> feed and feed not in ('standby', 'other')
)
select
    piece, start_us, max(state = 'good' and coalesce(is_in_step, 0)) as is_covered,
    max(state = 'not known' or (state = 'good' and is_in_step is null)) as is_unproved
from others group by piece, start_us;
create unique index protection_by_slice on protection (piece, start_us);

create table air as
select
    s.*,
    case
        when s.feed = 'other' then null
        when s.feed = 'standby' or c.state = 'not good' then 'lost'
        when c.state is not 'good' then 'unknown'
        when not c.is_member then 'exposed'
        when p.is_covered then 'covered'
        when p.is_unproved then 'unproved'
        else 'exposed'
    end as state
from slices as s
left join conditions as c on s.piece = c.piece and s.start_us = c.start_us and s.feed = c.machine
left join protection as p on s.piece = p.piece and s.start_us = p.start_us;

-- Programmes that ended early without being lost.
create table early as
with
tails as (
    select
        w.piece, w.channel, w.end_us,
        coalesce(max(case when a.state is not 'lost' then a.end_us end), w.start_us) as start_us
    from windows as w inner join air as a on w.piece = a.piece
    where w.end_us = w.booked_us
    group by w.piece
)
select t.piece, t.start_us
from tails as t inner join air as a on t.piece = a.piece and t.start_us = a.start_us, rule
where t.start_us >= t.end_us - tail_us and t.start_us < t.end_us and (
    exists (select 1 from events as e where e.machine = a.feed and e.at_us = t.start_us and e.event = 'stop')
    or a.feed = 'standby' and exists (
        select 1 from takes as k
        where k.channel = t.channel and k.at_us = t.start_us and k.to_machine = 'standby' and k.reason = 'planned'
    )
);

-- The job as one script for the engine, tuned by hand: words as enums, instants as whole microseconds, spans of years
-- joined by the day, and no sorting of all lines: what a machine said last is looked up in buckets as long as the silence,
-- and only turns (the few lines that change a machine) are put in order.
-- Variables: site, tolerance_s, lead_us, carry_us, silence_us, tail_us.

create temp macro in_us(stamp) as epoch_us(try_cast(stamp as timestamptz));
create temp macro day_of(at_us) as at_us // 86400000000;
create temp macro slot_of(at_us) as at_us // getvariable('silence_us');
create type event_word as enum (
    'stop', 'roll', 'unlock', 'lock', 'picture_lost', 'sound_lost', 'picture_back', 'sound_back', 'offset', 'alarm',
    'clear', 'clean', 'lineup', 'head_fitted', 'part_fitted', 'hours', 'record_on', 'record_off', 'clock', 'alive'
);

-- Lines, each with a reason where it cannot be read.
create temp table event_rows as
with judged as (
    select
        *, in_us("at") as at_us, try_cast(event as event_word) as word, try_cast(value as double) as number,
        case
            when at_us is null then 'at is no time'
            when machine is null then 'machine is empty'
            when word is null then 'event is none of the words'
            when value is not null and not coalesce(isfinite(number), false) then 'value is no number'
        end as reason
    from read_csv(
        getvariable('site') || '/events/*.csv', auto_detect = false, header = true, delim = ',', quote = '"',
        null_padding = true, filename = 'file',
        columns = {'at': 'varchar', 'machine': 'varchar', 'event': 'varchar', 'value': 'varchar', 'detail': 'varchar'}
    )
)
select
    at_us, machine, word, number, detail, reason, case when reason is not null then file end as file,
    case when reason is not null then concat_ws(',', "at", machine, event, value, detail) end as cells
from judged;
create temp table events as
select distinct at_us, machine, word, number, detail from event_rows where reason is null;

create temp table switch_rows as
select
    *, in_us("at") as at_us,
    case
        when in_us("at") is null then 'at is no time'
        when action is null or action not in ('take', 'start') then 'action is none of the words'
        when channel is null then 'channel is empty'
        when to_machine is null then 'to_machine is empty'
        when reason not in ('fault', 'precaution', 'planned', 'rehearsal', 'return') then 'reason is none of the words'
    end as why
from read_csv(getvariable('site') || '/switches*.csv', all_varchar = true, header = true);
create temp table switches as
select distinct at_us, action, channel, from_machine, to_machine, reason, "by" from switch_rows where why is null;

create temp table booking_rows as
select
    *, in_us(starts) as start_us, in_us(ends) as end_us,
    case
        when booking is null then 'booking is empty'
        when machine is null then 'machine is empty'
        when role is null or role not in ('air', 'protect', 'record', 'record_protect', 'dub', 'maintenance')
        then 'role is none of the words'
        when in_us(starts) is null then 'starts is no time'
        when in_us(ends) is null then 'ends is no time'
        when role in ('air', 'protect') and (transmission is null or channel is null) then 'it names no transmission'
        when in_us(ends) <= in_us(starts) then 'it ends before it starts'
    end as why
from read_csv(getvariable('site') || '/bookings*.csv', all_varchar = true, header = true, filename = 'file');
create temp table bookings as
select distinct on (booking) booking, transmission, channel, machine, role, start_us, end_us
from (select *, row_number() over () as line from booking_rows)
where why is null
order by booking, file desc, line desc;

create temp table ticket_rows as
select
    *,
    case
        when ticket is null then 'ticket is empty'
        when opened is not null and in_us(opened) is null then 'opened is no time'
        when restored is not null and in_us(restored) is null then 'restored is no time'
        when closed is not null and in_us(closed) is null then 'closed is no time'
        when labour_hours is not null and try_cast(labour_hours as double) is null then 'labour_hours is no number'
        when parts_cost is not null and try_cast(parts_cost as double) is null then 'parts_cost is no number'
    end as why
from read_csv(getvariable('site') || '/tickets*.csv', all_varchar = true, header = true, filename = 'file');
create temp table tickets as
select distinct on (ticket) * from (select *, row_number() over () as line from ticket_rows)
where why is null
order by ticket, file desc, line desc;
create temp table machines as
select machine, pair from read_csv(getvariable('site') || '/machines*.csv', all_varchar = true, header = true);

-- When each machine spoke.
create temp table slots as
select
    machine, slot_of(at_us) as slot, min(at_us) as first_us, max(at_us) as last_us, bool_or(word = 'lock') as locks,
    bool_or(word = 'alive') as is_alive
from events
group by all;
create temp table habits as
select machine, bool_or(locks) as logs_lock, bool_or(is_alive) as logs_alive, min(first_us) as first_us
from slots
group by all;
create temp table silences as
with ordered as (
    select machine, last_us, lead(first_us) over (partition by machine order by slot) as next_us
    from slots semi join (from habits where logs_alive) as talkers using (machine)
)
select machine, last_us + getvariable('silence_us') as start_us, next_us as end_us
from ordered
where next_us is null or next_us > last_us + getvariable('silence_us');

-- Runs of each machine, from its turns alone.
create temp table turns as
with
told as (select row_number() over () as turn, at_us, machine, word from events where enum_code(word) < 8),
rolls as (select turn, machine, at_us, slot_of(at_us) as slot from told where word = 'roll'),
near as (
    select r.turn, max(e.at_us) as at_us
    from rolls as r inner join events as e
        on r.machine = e.machine and r.slot = slot_of(e.at_us) and e.at_us < r.at_us
    group by all
),
heard as (
    select r.turn, greatest(n.at_us, s.last_us) as heard_us
    from rolls as r
    left join near as n using (turn)
    asof left join slots as s on r.machine = s.machine and r.slot > s.slot
),
moving as (
    select
        t.turn, t.machine, t.at_us, t.word, h.heard_us,
        case
            when word in ('picture_lost', 'sound_lost') then 5
            when word in ('picture_back', 'sound_back') then 6
            else enum_code(word) + 1
        end as place,
        last_value(case when t.word in ('roll', 'stop') then t.word end ignore nulls) over (
            partition by t.machine order by t.at_us, place rows between unbounded preceding and 1 preceding
        ) as last_motion
    from told as t left join heard as h using (turn)
),
runs as (
    select
        *,
        sum(case
            when word = 'stop' then 1
            when word <> 'roll' then 0
            when last_motion = 'roll' and at_us - heard_us <= getvariable('carry_us') then 0
            else 1
        end) over (partition by machine order by at_us, place rows unbounded preceding) as run
    from moving
),
latest as (
    select
        *,
        run > 0 and first_value(word) over so_far = 'roll' as is_rolling,
        last_value(case when word in ('lock', 'unlock') then word end ignore nulls) over so_far as lock_word,
        coalesce(last_value(
            case when word in ('picture_lost', 'picture_back') then word end ignore nulls
        ) over so_far = 'picture_lost', false)
        or coalesce(last_value(
            case when word in ('sound_lost', 'sound_back') then word end ignore nulls
        ) over so_far = 'sound_lost', false) as is_lost
    from runs
    window so_far as (partition by machine, run order by at_us, place rows unbounded preceding)
)
select
    l.machine, l.at_us, l.place, l.run, l.is_rolling,
    l.is_rolling and (coalesce(l.lock_word = 'lock', false)
        or not h.logs_lock and coalesce(l.lock_word <> 'unlock', true)) as is_running,
    case
        when is_running and not l.is_lost then 'good'
        when l.run > 0 or l.is_lost or coalesce(l.lock_word = 'unlock', false) then 'not good'
        else 'not known'
    end as state
from latest as l inner join habits as h using (machine);

create temp table states as
with
words as (
    select machine, at_us, place, state, null as is_silent from turns
    union all
    select machine, start_us, 9, null, true from silences
    union all
    select machine, end_us, 0, null, false from silences where end_us is not null
),
filled as (
    select
        machine, at_us,
        last_value(state ignore nulls) over so_far as state,
        coalesce(last_value(is_silent ignore nulls) over so_far, false) as is_silent,
        lead(at_us) over (partition by machine order by at_us, place) as next_us
    from words
    window so_far as (partition by machine order by at_us, place rows unbounded preceding)
),
lasting as (
    select machine, at_us, case when is_silent or state is null then 'not known' else state end as state
    from filled
    where next_us is null or next_us > at_us
)
select * from lasting
qualify state is distinct from lag(state) over (partition by machine order by at_us);

create temp table running as
with
broken as (
    select
        machine, at_us, place, run, is_running,
        sum(case when is_running then 0 else 1 end) over (
            partition by machine order by at_us, place rows unbounded preceding
        ) as break_no
    from turns
),
since as (
    select
        machine, at_us, place, case when is_running then min(at_us) over (partition by machine, run, break_no, is_running) end as since_us
    from broken
)
select machine, at_us, since_us from since
qualify row_number() over (partition by machine, at_us order by place desc) = 1;

-- Air windows, and whose machine is booked.
create temp table windows as
with
reached as (
    select *, max(end_us) over (
        partition by channel, transmission order by start_us rows between unbounded preceding and 1 preceding
    ) as reached_us
    from bookings
    where role = 'air'
),
stretches as (
    select *, sum(case when start_us > coalesce(reached_us, start_us - 1) then 1 else 0 end) over (
        partition by channel, transmission order by start_us rows unbounded preceding
    ) as stretch
    from reached
),
whole as (
    select channel, transmission, min(start_us) as start_us, max(end_us) as booked_us
    from stretches
    group by channel, transmission, stretch
),
as_of as (select greatest((select max(last_us) from slots), (select max(at_us) from switches)) as at_us)
select row_number() over (order by channel, start_us) as piece, *, least(booked_us, as_of.at_us) as end_us
from whole, as_of
where start_us < as_of.at_us;

create temp table takes as
select t.*, w.piece, w.end_us as piece_end_us, w.transmission
from (
    select row_number() over (order by channel, at_us, from_machine nulls first, to_machine) as take, *
    from switches
) as t
asof left join windows as w on t.channel = w.channel and t.at_us >= w.start_us;
update takes set piece = null, piece_end_us = null, transmission = null where at_us >= piece_end_us;

-- The machines of each transmission: booked, or named on the channel.
create temp table booked as
select channel, transmission, machine, start_us - getvariable('lead_us') as start_us, end_us
from bookings
where role in ('air', 'protect');
create temp table booked_days as
select *, unnest(range(day_of(start_us), day_of(end_us + getvariable('lead_us')) + 1)) as day from booked;
create temp table namings as
with
named as (
    select piece, channel, transmission, at_us, to_machine as machine, piece_end_us as end_us, false as is_left
    from takes where piece is not null
    union
    select piece, channel, transmission, at_us, from_machine, piece_end_us, true
    from takes where piece is not null and action = 'take'
),
free as (
    select n.* from named as n
    where machine is not null and machine not in ('standby', 'other') and not exists (
        from booked_days as b
        where b.machine = n.machine and b.day = day_of(n.at_us) and b.transmission <> n.transmission
            and n.at_us >= b.start_us and n.at_us < b.end_us
    )
)
select * from free as f
where not is_left
    or exists (
        from booked as b where b.machine = f.machine and b.channel = f.channel and b.transmission = f.transmission
            and f.at_us >= b.start_us and f.at_us < b.end_us
    )
    or exists (
        from free as t where t.piece = f.piece and t.machine = f.machine and not t.is_left and t.at_us < f.at_us
    )
    or not exists (
        from booked_days as b
        where b.machine = f.machine and b.day = day_of(f.at_us) and b.channel = f.channel
            and b.transmission <> f.transmission and b.end_us <= f.at_us and b.end_us >= f.at_us - getvariable('lead_us')
    );
create temp table members as
select w.piece, b.machine, b.start_us, b.end_us
from windows as w inner join booked as b using (channel, transmission)
where b.start_us < w.end_us and b.end_us > w.start_us
union
select piece, machine, at_us, end_us from namings;

-- What the selector was on.
create temp table stays as
with
inside as (select * from takes where piece is not null and action = 'take'),
first_takes as (select distinct on (piece) piece, from_machine from inside order by piece, take),
last_takes as (
    select
        w.piece, t.to_machine
    from windows as w
    asof inner join (
        select channel, at_us, arg_max(to_machine, take) as to_machine, max(piece_end_us) as piece_end_us
        from takes where action = 'take' group by channel, at_us
    ) as t on w.channel = t.channel and w.start_us > t.at_us
    where (w.start_us - t.at_us <= getvariable('lead_us') or w.start_us - t.piece_end_us <= getvariable('lead_us'))
        and (t.to_machine in ('standby', 'other') or exists (
            from members as m where m.piece = w.piece and m.machine = t.to_machine
                and m.start_us <= w.start_us and m.end_us > w.start_us
        ))
),
air_booked as (
    select w.piece, arg_max(b.machine, (b.start_us, b.booking)) as machine
    from windows as w inner join bookings as b using (channel, transmission)
    where b.role = 'air' and b.start_us <= w.start_us and b.end_us > w.start_us
    group by all
)
select
    w.piece, w.start_us as at_us, 0 as take, coalesce(f.from_machine, l.to_machine, b.machine) as feed
from windows as w
left join first_takes as f using (piece)
left join last_takes as l using (piece)
left join air_booked as b using (piece)
union all
select piece, at_us, take, to_machine from inside;
create temp table feeds as select piece, at_us, arg_max(feed, take) as feed from stays group by piece, at_us;

-- From when each machine of a piece is known.
create temp table present as
with
named as (
    select piece, machine from members
    union
    select piece, feed from stays where feed not in ('standby', 'other')
),
asked as (select n.piece, n.machine, w.start_us, w.end_us, slot_of(w.start_us) as slot
    from named as n inner join windows as w using (piece)),
near as (
    select a.piece, a.machine, max(e.at_us) filter (e.at_us <= a.start_us) as last_us,
        min(e.at_us) filter (e.at_us > a.start_us) as next_us
    from asked as a inner join events as e on a.machine = e.machine and a.slot = slot_of(e.at_us)
    group by all
),
words as (
    select a.*, greatest(n.last_us, b.last_us) as last_us, least(n.next_us, f.first_us) as next_us
    from asked as a
    left join near as n using (piece, machine)
    asof left join slots as b on a.machine = b.machine and a.slot > b.slot
    asof left join slots as f on a.machine = f.machine and a.slot < f.slot
)
select
    w.piece, w.machine, w.start_us, w.end_us,
    case
        when w.start_us - w.last_us <= getvariable('lead_us') then w.start_us
        when t.is_rolling and w.start_us - w.last_us <= getvariable('carry_us') then w.start_us
        else w.next_us
    end as known_us
from words as w
asof left join (
    select machine, at_us, arg_max(is_rolling, place) as is_rolling from turns group by all
) as t on w.machine = t.machine and w.start_us >= t.at_us;

-- When two machines of a piece were in step.
create temp table steps as
with
pairs as (
    select distinct a.machine as one, b.machine as two
    from present as a inner join present as b on a.piece = b.piece and a.machine < b.machine
),
names as (select machine from habits union select machine from machines union select machine from bookings),
partners as (
    select a.machine, min(b.machine) as partner
    from machines as a inner join machines as b on a.pair = b.pair and a.machine <> b.machine
    group by all having count(*) = 1
),
said as (
    select
        least(o.machine, coalesce(n.machine, p.partner)) as one,
        greatest(o.machine, coalesce(n.machine, p.partner)) as two,
        o.at_us, bool_and(abs(o.number) <= getvariable('tolerance_s') + 1e-9) as is_within
    from events as o
    left join names as n on o.detail = n.machine and o.detail <> o.machine
    left join partners as p on o.machine = p.machine
    where o.word = 'offset' and o.number is not null and coalesce(n.machine, p.partner) is not null
    group by all
),
moments as (
    select p.one, p.two, r.at_us from pairs as p inner join running as r on r.machine in (p.one, p.two)
    union
    select p.one, p.two, s.at_us from pairs as p inner join said as s using (one, two)
),
weighed as (
    select
        m.one, m.two, m.at_us,
        case when s.at_us >= greatest(a.since_us, b.since_us) and a.since_us is not null and b.since_us is not null
        then s.is_within end as is_in_step
    from moments as m
    asof left join running as a on m.one = a.machine and m.at_us >= a.at_us
    asof left join running as b on m.two = b.machine and m.at_us >= b.at_us
    asof left join said as s on m.one = s.one and m.two = s.two and m.at_us >= s.at_us
)
select * from weighed
qualify is_in_step is distinct from lag(is_in_step) over (partition by one, two order by at_us);

-- Each piece cut wherever anything changes.
create temp table slices as
with
days as (select *, unnest(range(day_of(start_us), day_of(end_us) + 1)) as day from present),
points as (
    select piece, at_us from feeds
    union
    select p.piece, s.at_us from days as p inner join states as s
        on p.machine = s.machine and p.day = day_of(s.at_us) and s.at_us > p.start_us and s.at_us < p.end_us
    union
    select piece, known_us from present where known_us > start_us and known_us < end_us
    union
    select m.piece, unnest([m.start_us, m.end_us]) from members as m
    union
    select a.piece, s.at_us from days as a
    inner join present as b on a.piece = b.piece and a.machine < b.machine
    inner join steps as s
        on a.machine = s.one and b.machine = s.two and a.day = day_of(s.at_us)
        and s.at_us > a.start_us and s.at_us < a.end_us
),
cut as (
    select p.piece, p.at_us as start_us, w.end_us as piece_end_us
    from points as p inner join windows as w using (piece)
    where p.at_us >= w.start_us and p.at_us < w.end_us
)
select piece, start_us, coalesce(lead(start_us) over (partition by piece order by start_us), piece_end_us) as end_us
from cut;

create temp table conditions as
with
there as (
    select s.piece, s.start_us, p.machine, p.known_us
    from slices as s inner join present as p using (piece)
),
judged as (
    select
        t.piece, t.start_us, t.machine,
        case when t.known_us <= t.start_us then coalesce(s.state, 'not known') else 'not known' end as state
    from there as t
    asof left join states as s on t.machine = s.machine and t.start_us >= s.at_us
)
select
    j.*, exists (
        from members as m where m.piece = j.piece and m.machine = j.machine
            and m.start_us <= j.start_us and m.end_us > j.start_us
    ) as is_member
from judged as j;

create temp table air as
with
fed as (
    select s.*, f.feed from slices as s asof inner join feeds as f on s.piece = f.piece and s.start_us >= f.at_us
),
others as (
    select
        f.piece, f.start_us, c.state,
        least(f.feed, c.machine) as one, greatest(f.feed, c.machine) as two
    from fed as f
    inner join conditions as c on f.piece = c.piece and f.start_us = c.start_us and f.feed <> c.machine
    where c.is_member and f.feed not in ('standby', 'other')
),
protection as (
    select
        o.piece, o.start_us,
        bool_or(o.state = 'good' and coalesce(s.is_in_step, false)) as is_covered,
        bool_or(o.state = 'not known' or o.state = 'good' and s.is_in_step is null) as is_unproved
    from others as o
    asof left join steps as s on o.one = s.one and o.two = s.two and o.start_us >= s.at_us
    group by all
)
select
    f.piece, f.start_us, f.end_us, f.feed,
    case
        when f.feed = 'other' then null
        when f.feed = 'standby' or c.state = 'not good' then 'lost'
        when c.state is distinct from 'good' then 'unknown'
        when not c.is_member then 'exposed'
        when p.is_covered then 'covered'
        when p.is_unproved then 'unproved'
        else 'exposed'
    end as state
from fed as f
left join conditions as c on f.piece = c.piece and f.start_us = c.start_us and f.feed = c.machine
left join protection as p on f.piece = p.piece and f.start_us = p.start_us;

-- Programmes that ended early without being lost.
create temp table early as
with
tails as (
    select
        w.piece, w.channel,
        coalesce(max(a.end_us) filter (a.state is distinct from 'lost'), w.start_us) as start_us
    from windows as w inner join air as a using (piece)
    where w.end_us = w.booked_us
    group by w.piece, w.channel, w.start_us, w.end_us
    having coalesce(max(a.end_us) filter (a.state is distinct from 'lost'), w.start_us)
        between w.end_us - getvariable('tail_us') and w.end_us - 1
)
select t.piece, t.start_us
from tails as t inner join air as a using (piece, start_us)
where exists (from events as e where e.word = 'stop' and e.machine = a.feed and e.at_us = t.start_us)
    or a.feed = 'standby' and exists (
        from takes as k where k.channel = t.channel and k.at_us = t.start_us and k.to_machine = 'standby'
            and k.reason = 'planned'
    );

-- Windows of which nothing says that they were played: no take on the channel from the lead before, and no roll of a
-- machine of the transmission from the carry before.
-- grain: one window, at the row of its first air booking
-- key: file, line
-- reads: core_windows, core_takes, core_members, core_words, core_as_of, core_settings, clean_bookings
with
windows as (
    select w.*
    from core_windows as w
    cross join core_as_of as a
    where w.started_at_utc < a.as_of_at_utc
),
settings as (select * from core_settings),
rolls as (select machine, at_utc from core_words where event = 'roll'),
signs as (
    select channel, 'take' as what, channel as whose, at_utc from core_takes
    union all
    select cast(null as varchar), 'roll', machine, at_utc from rolls
),
wanted as (
    select channel, transmission, started_at_utc, ended_at_utc, 'take' as what, channel as whose from windows
    union
    select w.channel, w.transmission, w.started_at_utc, w.ended_at_utc, 'roll', m.machine
    from windows as w
    inner join core_members as m
        on w.channel = m.channel
        and w.transmission = m.transmission
        and m.started_at_utc < w.ended_at_utc
        and m.ended_at_utc > w.started_at_utc
),
timeline as (
    select what, whose, at_utc, at_utc as sign_at_utc, cast(null as varchar) as channel,
        cast(null as varchar) as transmission, cast(null as timestamp) as started_at_utc
    from signs
    union all
    select what, whose, ended_at_utc, null, channel, transmission, started_at_utc from wanted
),
looked_back as (
    select
        *,
        max(sign_at_utc) over (
            partition by what, whose order by at_utc range between unbounded preceding and current row
        ) as last_sign_at_utc
    from timeline
),
heard as (
    select distinct l.channel, l.transmission, l.started_at_utc
    from looked_back as l
    cross join settings as s
    where l.channel is not null
        and l.last_sign_at_utc >= l.started_at_utc - case when l.what = 'take' then s.lead_time else s.carry_time end
),
unheard as (
    select w.*
    from windows as w
    left join heard as h
        on w.channel = h.channel and w.transmission = h.transmission and w.started_at_utc = h.started_at_utc
    where h.channel is null
),
findings as (
    select
        'bookings' as feed,
        arg_min(b.file, b.booking) as file,
        arg_min(b.line, b.booking) as line,
        u.transmission || ' on ' || u.channel || ' at ' || cast(u.started_at_utc as varchar)
        || ' UTC: no take and no roll' as what
    from unheard as u
    left join clean_bookings as b
        on u.channel = b.channel
        and u.transmission = b.transmission
        and u.started_at_utc = b.started_at_utc
        and b.role = 'air'
    group by u.channel, u.transmission, u.started_at_utc
)
select * from findings

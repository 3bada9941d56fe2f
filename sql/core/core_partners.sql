-- The registered partner of each machine: the machine that `pair` names (or that names it), else the one other machine
-- of the same pair.
-- grain: one machine with a partner
-- key: machine
-- reads: clean_machines
with
machines as (select machine, pair from clean_machines where pair is not null),
named as (
    select m.machine, p.machine as partner
    from machines as m
    inner join clean_machines as p on m.pair = p.machine and m.machine <> p.machine
),
named_back as (
    select partner as machine, min(machine) as partner from named group by partner having count(*) = 1
),
sharing as (
    select m.machine, min(p.machine) as partner
    from machines as m
    inner join machines as p on m.pair = p.pair and m.machine <> p.machine
    group by m.machine
    having count(*) = 1
),
partners as (
    select m.machine, coalesce(n.partner, b.partner, s.partner) as partner
    from clean_machines as m
    left join named as n on m.machine = n.machine
    left join named_back as b on m.machine = b.machine
    left join sharing as s on m.machine = s.machine
    where coalesce(n.partner, b.partner, s.partner) is not null
)
select * from partners

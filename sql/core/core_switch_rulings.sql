-- What rulings on a switch find: the one switch nearest to their time on the channel, at most two seconds away. Of several
-- rulings on one switch the last decided counts, of these the last written. A ruling that counts has no `why_not`.
-- grain: one ruling on a switch
-- key: ruling
-- reads: clean_rulings, core_found_switches
with
rulings as (select * from clean_rulings where rules = 'switch'),
near as (
    select
        r.ruling,
        s.take_no,
        rank() over (
            partition by r.ruling order by abs(date_diff('microsecond', r.at_utc, s.at_utc))
        ) as nearness
    from rulings as r
    inner join core_found_switches as s
        on r.channel = s.channel
        and s.at_utc >= r.at_utc - interval 2 second
        and s.at_utc <= r.at_utc + interval 2 second
),
nearest as (
    select ruling, min(take_no) as take_no, count(*) as near_count from near where nearness = 1 group by ruling
),
read as (
    select
        r.*,
        n.take_no,
        case
            when r.channel is null then 'it names no channel'
            when r.says is null or r.says not in ('forced', 'precaution', 'unexplained', 'planned', 'return')
            then 'it says "' || coalesce(r.says, '') || '"; a switch is forced, precaution, unexplained, planned or return'
            when n.ruling is null then 'no switch on ' || r.channel || ' lies within 2 s of that time'
            when n.near_count > 1 then n.near_count || ' switches on ' || r.channel || ' are equally near to that time'
        end as why_not
    from rulings as r
    left join nearest as n on r.ruling = n.ruling
),
ordered as (
    select
        *,
        first_value(ruling) over (
            partition by take_no, why_not is null order by decided_at_utc desc nulls last, file desc, line desc
        ) as last_ruling
    from read
),
placed as (
    select
        ruling,
        says,
        case when why_not is null then take_no end as take_no,
        coalesce(
            why_not,
            case when ruling <> last_ruling then 'ruling "' || last_ruling || '" on the same switch was decided later' end
        ) as why_not
    from ordered
)
select * from placed

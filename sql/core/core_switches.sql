-- Moves of the feed between two machines of the transmission: of the kind that a person ruled, else that was found.
-- grain: one switch
-- key: switch_no
-- reads: core_found_switches, core_switch_rulings
with
found as (select * from core_found_switches),
rulings as (select * from core_switch_rulings where why_not is null),
ruled as (
    select f.*, r.ruling, coalesce(r.says, f.found_kind) as kind
    from found as f
    left join rulings as r on f.take_no = r.take_no
),
switches as (
    select
        row_number() over (order by channel, at_utc, take_no) as switch_no,
        channel,
        transmission,
        piece_started_at_utc,
        at_utc,
        completed_at_utc,
        from_machine,
        to_machine,
        reason,
        kind,
        kind in ('forced', 'precaution', 'unexplained') as is_protect,
        take_no,
        found_kind,
        ruling
    from ruled
)
select * from switches

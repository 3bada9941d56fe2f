-- Tickets that say they were restored or closed before they were opened.
-- grain: one ticket
-- key: file, line
-- reads: clean_tickets
with
tickets as (select * from clean_tickets),
backwards as (
    select *
    from tickets
    where restored_at_utc < opened_at_utc or closed_at_utc < opened_at_utc
),
findings as (
    select
        'tickets' as feed,
        file,
        line,
        'ticket "' || ticket || '" is ' || case when restored_at_utc < opened_at_utc then 'restored' else 'closed' end
        || ' before it is opened, ' || cast(opened_at_utc as varchar) || ' UTC' as what
    from backwards
)
select * from findings

-- Senders that say themselves that their clock is not set by another, so that their stamps may be anything.
-- grain: one stretch of lines of a sender
-- key: file, line, what
-- reads: raw_findings
with
senders as (select * from raw_findings where kind = 'unsynchronised'),
findings as (select feed, file, line, what from senders)
select * from findings

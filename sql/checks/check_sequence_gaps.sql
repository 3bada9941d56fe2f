-- Numbers that a sender's lines skip: lines were lost on the way to the file.
-- grain: one gap
-- key: file, line, what
-- reads: raw_findings
with
gaps as (select * from raw_findings where kind = 'gap'),
findings as (select feed, file, line, what from gaps)
select * from findings

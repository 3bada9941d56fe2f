"""The select behind the drawn clocks: no more machines and no more of their pairs than a page can carry."""

from __future__ import annotations

MACHINES_AT_MOST = 24  # drawn
POINTS_AT_MOST = 120  # pairs drawn of a machine

# Machines: corrected ones, then those whose offset is largest beside its ±; of each an even choice of its pairs.
CLOCK_PAIRS = f"""
with
clocks as (
    select machine, bool_or(is_corrected) as is_corrected, max(abs(offset_s) / within_s) as share
    from raw_clock_segments where pairs_count > 0 group by machine
    order by is_corrected desc, share desc nulls last, machine limit {MACHINES_AT_MOST}
),
pairs as (
    select
        p.machine, p.segment_no, p.house_at_utc, p.machine_at_utc,
        min(p.house_at_utc) over one_segment as first_at_utc,
        max(p.house_at_utc) over one_segment as last_at_utc,
        row_number() over one_machine as pair_no,
        count(*) over (partition by p.machine) as pairs_count
    from raw_clock_pairs as p
    inner join clocks as c on p.machine = c.machine
    window
        one_segment as (partition by p.machine, p.segment_no),
        one_machine as (partition by p.machine order by p.house_at_utc, p.machine_at_utc)
)
select machine, segment_no, house_at_utc, machine_at_utc, first_at_utc, last_at_utc
from pairs
where pairs_count <= {POINTS_AT_MOST}
    or pair_no * {POINTS_AT_MOST} // pairs_count <> (pair_no - 1) * {POINTS_AT_MOST} // pairs_count
order by machine, segment_no, house_at_utc, machine_at_utc
"""

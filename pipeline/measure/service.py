"""Times to service: from a ticket's opening to the machine's restoring, open tickets kept as cut short."""

from __future__ import annotations

import polars as pl

from pipeline.store import Store

SERVICES = """
select
    m.recovery_no,
    date_diff(
        'microsecond', t.opened_at_utc,
        coalesce(t.restored_at_utc, t.closed_at_utc, greatest(a.as_of_at_utc, t.opened_at_utc))
    ) * 0.000001 as to_service_s,
    t.restored_at_utc is not null as is_restored
from measure_ticket_matches as m
inner join clean_tickets as t on m.ticket = t.ticket
cross join core_as_of as a
where coalesce(t.restored_at_utc, t.closed_at_utc, t.opened_at_utc) >= t.opened_at_utc
order by m.recovery_no
"""


def service_times(store: Store) -> pl.DataFrame:
    """recovery_no, to_service_s, is_restored of every matched ticket.

    A ticket closed without ``restored`` is cut short at its closing, one still open at data-as-of. A ticket restored or
    closed before it was opened gives no time: a check lists it.
    """
    return store.read(SERVICES)

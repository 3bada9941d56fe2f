"""Rates of the transports, with luck, duty and work allowed for: who differs, and what could be seen."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.measure.transports.rates.judging import judge_rates
from pipeline.measure.transports.rates.work import read_work
from pipeline.settings import Settings
from pipeline.store import Store

MONTHS = """
with
both_measures as (
    select machine, month, 0 as air_count, air_s, 0 as protect_count, 0 as protect_s
    from metric_air
    union all
    select machine, month, forced_count + precaution_count + unexplained_count, 0, 0, 0 from metric_events
    union all
    select machine, month, 0, 0, cover_losses_count, protect_s from metric_protect
)
select
    machine,
    month,
    cast(sum(air_count) as bigint) as air_count,
    cast(sum(air_s) as double) / 3600 as air_h,
    cast(sum(protect_count) as bigint) as protect_count,
    cast(sum(protect_s) as double) / 3600 as protect_h
from both_measures
where machine is not null
group by machine, month
order by machine, month
"""


def measure_rates(store: Store, settings: Settings, figures: Mapping[str, Any]) -> dict[str, Any]:
    """Two measures, each by machine and per 1,000 h of its own duty: ``air`` and ``protect``.

    ``air``: protect switches away from the machine, per air hour, as in the figures. ``protect``: losses of cover, per
    hour it stood good and in step. Of each: the room's rate, the rate by reel age and part of the day, the scatter of
    monthly counts, and every machine with hours in it — its rate with exact limits, what is expected of it given the
    work it had, its test against the others, its evened rate, the probability that it is the worst, and the least
    difference its hours could show. Reads ``core_*``, ``metric_*``, ``clean_bookings`` and ``clean_reels``.
    """
    rows = store.read(MONTHS).to_dicts()
    months = {
        measure: [
            {**{key: row[key] for key in ("machine", "month")}, "count": row[f"{measure}_count"],
             "hours": row[f"{measure}_h"]}
            for row in rows
        ]
        for measure in ("air", "protect")
    }  # fmt: skip
    span_h = figures["transports"]["duty"]["span_h"] or 0.0
    return judge_rates(read_work(store, settings.zone), months, span_h)

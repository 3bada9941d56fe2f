"""Does care matter here: uses that were cleaned, lined up, warmed up or on a younger head against those that were not.

Every use of a machine in a transmission is one line of ``core_uses``. Here they are added up by machine and care, and
handed to the comparison; nothing is judged in this module.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.measure.transports.care.adherence import find_adherence
from pipeline.measure.transports.care.comparison import compare_care
from pipeline.settings import Settings
from pipeline.store import Store

WARM_S = 3600.0  # an hour to warm up: common practice, no source
# The middle of the room's uses parts younger from older heads. It knows no events.
HEAD_CUT = "select median(head_h) as head_h from core_uses"
CELLS = """
with
cuts as (select median(head_h) as head_h from core_uses),
marked as (
    select
        u.machine,
        not u.was_cleaned as clean,
        not u.was_lined_up as lineup,
        u.heard_before_s < ? as warm_up,
        u.head_h > c.head_h as head,
        u.events_count,
        u.duty_s
    from core_uses as u
    cross join cuts as c
)
select
    machine, clean, lineup, warm_up, head,
    count(*) as uses_count, cast(sum(events_count) as bigint) as events_count, sum(duty_s) / 3600.0 as duty_h
from marked
group by machine, clean, lineup, warm_up, head
order by machine, clean nulls first, lineup nulls first, warm_up nulls first, head nulls first
"""
ADHERENCE = """
select
    machine,
    count(*) as uses_count,
    cast(sum(events_count) as bigint) as events_count,
    sum(duty_s) / 3600.0 as duty_h,
    count(was_cleaned) filter (where not is_continued) as clean_known_count,
    count(*) filter (where not is_continued and was_cleaned) as clean_count,
    count(was_lined_up) filter (where not is_continued) as lineup_known_count,
    count(*) filter (where not is_continued and was_lined_up) as lineup_count,
    median(heard_before_s) as heard_before_s,
    median(head_h) as head_h
from core_uses
group by machine
order by machine
"""
OUTSIDE = """
select (select count(*) from core_recoveries) - coalesce(sum(recoveries_count), 0) as outside_count from core_uses
"""


def measure_care(store: Store, settings: Settings, figures: Mapping[str, Any]) -> dict[str, Any]:  # noqa: ARG001
    """The part ``transports.care`` of figures.json; reads ``core_uses`` and ``core_recoveries``, writes no table.

    ``items``: cleaning, line-up, warm-up and age of the head, each as ``compare_care`` gives it. ``cuts``: where
    warm-up and age of the head are parted, the latter at the middle of the room's uses (None: no fitting known).
    ``adherence``: how many uses that began with a stop before them were cleaned and lined up before, as
    ``find_adherence`` gives it. ``events_outside_count``: interruptions and protect switches of machines that had no
    use in that transmission, such as one that never rolled; they are compared with nothing. Hours are heads on tape
    while due, on air or behind it.
    """
    cells = store.read(CELLS, [WARM_S])
    return {
        "uses_count": int(cells["uses_count"].sum()),
        "events_count": int(cells["events_count"].sum()),
        "events_outside_count": int(store.value(OUTSIDE) or 0),
        "duty_h": float(cells["duty_h"].sum()),
        "silence_s": settings.carry_s,
        "cuts": {"warm_up_s": WARM_S, "head_h": store.value(HEAD_CUT)},
        **compare_care(cells),
        "adherence": find_adherence(store.read(ADHERENCE)),
    }

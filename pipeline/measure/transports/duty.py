"""What each transport was used for: hours on air, as protect, recording and for the rest, heads on tape, and starts.

A rate means little without the hours it comes from, and hours of one kind do not wear like those of another. Air hours
count what was fed, head hours what was rolled; neither is hours under power, which no feed records.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.settings import Settings
from pipeline.store import Store

HOUR_S = 3600.0
HOURS = ("air_h", "rolling_air_h", "protect_h", "record_h", "other_h", "head_h")
TOTALS = """
select
    machine,
    cast(sum(air_s) as double) / 3600 as air_h,
    cast(sum(rolling_air_s) as double) / 3600 as rolling_air_h,
    cast(sum(rolling_protect_s) as double) / 3600 as protect_h,
    cast(sum(rolling_record_s) as double) / 3600 as record_h,
    cast(sum(rolling_other_s) as double) / 3600 as other_h,
    cast(sum(head_s) as double) / 3600 as head_h,
    cast(sum(starts_count) as bigint) as starts_count
from metric_duty group by machine order by machine
"""
# A meter that was changed, set back or ran over its last digit steps back, or further than time went on: such a step
# says nothing of the hours between two readings, and is left out and counted.
METERS = """
with
readings as (
    select
        machine,
        at_utc,
        event_no,
        value - lag(value) over (partition by machine order by at_utc, event_no) as step_h,
        date_diff('microsecond', lag(at_utc) over (partition by machine order by at_utc, event_no), at_utc) / 3.6e9
            as elapsed_h
    from core_words
    where event = 'hours' and value is not null
),
judged as (
    -- a meter of whole hours may step one hour too far
    select *, step_h >= 0 and step_h <= elapsed_h + 1 as is_believed from readings
)
select
    machine,
    sum(step_h order by at_utc, event_no) filter (where is_believed) as meter_h,
    count(*) as readings_count,
    count(*) filter (where not is_believed) as breaks_count
from judged group by machine order by machine
"""
SPAN = """
select date_diff(
    'microsecond',
    coalesce(
        (select min(started_at_utc) from core_air_spans), (select min(started_at_utc) from core_rolling_spans)
    ),
    as_of_at_utc
) / 3.6e9 as span_h
from core_as_of
"""


def measure_duty(store: Store, settings: Settings, figures: Mapping[str, Any]) -> dict[str, Any]:  # noqa: ARG001
    """Hours and starts of every machine of ``figures``, the room's mean a machine, and the span of the data.

    Reads ``metric_duty``, ``core_words``, ``core_air_spans``, ``core_rolling_spans`` and ``core_as_of``; writes
    nothing. ``air_h`` is all air the machine fed, as ``air_s`` of the figures; ``rolling_air_h`` the part of it in
    which it is known to have rolled. ``head_h`` = ``rolling_air_h`` + ``protect_h`` + ``record_h`` + ``other_h``, the
    heads on tape. ``meter_h`` adds the believable steps of its hour meter, None without two readings; ``breaks_count``
    are steps not believed: backwards, or further than time went on and an hour more. ``span_h``: from the first air
    time, or without any the first roll, to the data-as-of.
    """
    names = [machine["machine"] for machine in figures["machines"]]
    duty = {row["machine"]: row for row in store.read(TOTALS).to_dicts()}
    meters = {row["machine"]: row for row in store.read(METERS).to_dicts()}
    machines = [_machine(name, duty.get(name), meters.get(name)) for name in names]
    return {"machines": machines, "room": summarise_duty(machines), "span_h": store.value(SPAN)}


def _machine(name: str, duty: Mapping[str, Any] | None, meter: Mapping[str, Any] | None) -> dict[str, Any]:
    hours = {column: float(duty[column]) if duty else 0.0 for column in HOURS}
    return {
        "machine": name,
        **hours,
        "starts_count": int(duty["starts_count"]) if duty else 0,
        "meter_h": meter["meter_h"] if meter else None,
        "readings_count": meter["readings_count"] if meter else 0,
        "breaks_count": meter["breaks_count"] if meter else 0,
    }


def summarise_duty(machines: list[dict[str, Any]]) -> dict[str, Any]:
    """The room's sums, and means a machine over those that rolled or fed air at all (None where none did).

    ``meter_h`` is averaged over the machines that have one.
    """
    used = [row for row in machines if row["head_h"] > 0 or row["air_h"] > 0]
    columns = (*HOURS, "starts_count")
    metered = [row["meter_h"] for row in used if row["meter_h"] is not None]
    return {
        "machines_count": len(used),
        "total": {name: sum(row[name] for row in used) for name in columns},
        "mean": {
            **{name: sum(row[name] for row in used) / len(used) if used else None for name in columns},
            "meter_h": sum(metered) / len(metered) if metered else None,
        },
    }

"""Adds a reading up as section 3 says it adds up: in total, by month of the broadcast day, by channel and by machine.

Lengths are whole microseconds. Spans are split where a month ends; events count once, at their start.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from tests.second_reader.reader import Reading
from tests.second_reader.records import EPOCH, STANDBY, micros

Key = tuple[str, str]  # ("total", ""), ("month", "2031-03"), ("channel", "ONE"), ("machine", "A1" or "standby")
Sums = dict[Key, dict[str, int]]
WHY = {
    "none booked": "exposed_none_booked_us", "not good": "exposed_not_good_us", "out of step": "exposed_out_of_step_us",
}  # fmt: skip


def _month_starts(year: int, month: int, settings: Mapping[str, Any]) -> int:
    day_starts = time.fromisoformat(settings.get("day_starts", "00:00"))
    zone = ZoneInfo(settings.get("timezone", "UTC"))
    local = datetime.combine(datetime(year, month, 1), day_starts, zone)  # noqa: DTZ001 - the zone comes with combine
    return micros(local.astimezone(UTC).replace(tzinfo=None))


def _month_at(at: int, settings: Mapping[str, Any]) -> tuple[str, int]:
    """Return the month an instant lies in and the instant at which the next begins."""
    near = EPOCH + timedelta(microseconds=at) - timedelta(days=2)
    year, month = near.year, near.month
    while True:
        following = (year + month // 12, month % 12 + 1)
        ends = _month_starts(*following, settings)
        if at < ends:
            return f"{year:04d}-{month:02d}", ends
        year, month = following


def _by_month(start: int, end: int, settings: Mapping[str, Any]) -> Iterator[tuple[str, int]]:
    while start < end:
        month, ends = _month_at(start, settings)
        yield month, min(end, ends) - start
        start = min(end, ends)


def _spans(reading: Reading) -> Iterator[tuple[str, str, int, int, list[str]]]:
    """Yield (channel, machine, start, end, figures to which the length belongs)."""
    for s in reading.air:
        names = ["air_us", f"{s.state}_us"]
        names += [WHY[s.exposed_why]] if s.exposed_why else []
        yield s.channel, s.feed, s.started, s.ended, names + (["elsewhere_us"] if s.elsewhere else [])
    for r in reading.rescued:
        yield r.channel, r.machine or STANDBY, r.started, r.ended, ["rescued_us"]
    for o in reading.overrun:
        yield o.channel, o.machine, o.started, o.ended, ["overrun_us"]


def _counts(reading: Reading) -> Iterator[tuple[str, str, int, list[str]]]:
    """Yield (channel, machine, start, figures in which the event counts)."""
    for i in reading.interruptions:
        flags = {"demands": i.demand, "demands_met": i.met, "demands_healed": i.healed,
                 "demands_unprotected": i.unprotected}  # fmt: skip
        names = ["interruptions", *(name for name, holds in flags.items() if holds)]
        yield i.channel, i.machine or STANDBY, i.started, names
    for r in reading.rescue_demands:
        names = ["demands", "demands_unprotected"] if r.unprotected else ["demands"]
        yield r.channel, r.machine or STANDBY, r.started, names
    for s in reading.switches:
        yield s.channel, s.source, s.at, [s.kind, "protect_switches"] if s.protect else [s.kind]


def totals(reading: Reading, settings: Mapping[str, Any]) -> Sums:
    """Return figures by key; one that is nought may be absent. Machine "standby" holds what belongs to no machine."""
    sums: Sums = defaultdict(lambda: defaultdict(int))
    for channel, machine, start, end, names in _spans(reading):
        for month, us in _by_month(start, end, settings):
            for key in (("total", ""), ("month", month), ("channel", channel), ("machine", machine)):
                for name in names:
                    sums[key][name] += us
    for channel, machine, start, names in _counts(reading):
        month, _ = _month_at(start, settings)
        for key in (("total", ""), ("month", month), ("channel", channel), ("machine", machine)):
            for name in names:
                sums[key][name] += 1
    for figure, by_machine in (("protect_us", reading.protect_us), ("cover_losses", reading.cover_losses)):
        for machine, amount in by_machine.items():
            sums["machine", machine][figure] += amount
    return {key: dict(figures) for key, figures in sums.items()}

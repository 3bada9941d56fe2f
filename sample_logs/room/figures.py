"""Adds the stated truth up into the shape of figures.json, in whole milliseconds until the last step."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from sample_logs.room.instants import month_of, month_start, stamp_utc
from sample_logs.room.plant import CHANNELS, MACHINES
from sample_logs.room.truth import Beside, Recovery, Span, Truth

STATES = ("lost", "unknown", "covered", "unproved", "exposed")
WHYS = ("none booked", "not good", "out of step")
TIMES = ("to_air", "to_take", "to_cover", "to_service")
PROTECT = ("forced", "precaution", "unexplained")
Keep = Callable[[Any], bool]


def add_up(truth: Truth) -> dict[str, Any]:
    """Totals, and the same by month, channel, machine and transmission. Seconds, split where a month ends."""
    truth = replace(truth, spans=list(_by_month(truth.spans)), beside=list(_by_month(truth.beside)))
    months = sorted({month_of(span.start) for span in truth.spans})
    return {
        "total": _figures(truth, lambda _: True),
        "months": [{"month": name, **_figures(truth, _is(_month, name))} for name in months],
        "channels": [{"channel": name, **_figures(truth, _is(_channel, name))} for name in sorted(CHANNELS)],
        "machines": [{"machine": name, **_figures(truth, _is(_machine, name))} for name in MACHINES],
        "transmissions": _transmissions(truth.spans),
        "interruptions": _interruptions(truth),
        "recoveries": _recoveries(truth),
        "switches": [
            {"channel": row.channel, "at_utc": stamp_utc(row.at), "from": row.source, "to": row.to, "kind": row.kind}
            for row in sorted(truth.switches, key=lambda row: (row.at, row.channel))
        ],
    }


def _figures(truth: Truth, keep: Keep) -> dict[str, Any]:
    spans = [row for row in truth.spans if keep(row)]
    kinds = [row.kind for row in truth.switches if keep(row)]
    cut_off = [row for row in truth.interruptions if keep(row)]
    demands = [row for row in cut_off if row.demand]
    recoveries = [row for row in truth.recoveries if keep(row)]
    return {
        **_air(spans),
        "elsewhere_s": _seconds(row for row in spans if row.elsewhere),
        **{
            f"{kind}_s": _seconds(r for r in truth.beside if r.kind == kind and keep(r))
            for kind in ("rescued", "overrun")
        },
        "interruptions": len(cut_off),
        "protect_switches": sum(kind in PROTECT for kind in kinds),
        **{kind: kinds.count(kind) for kind in (*PROTECT, "planned", "return")},
        "demands": len(demands) + sum(keep(row) for row in truth.rescues),
        "demands_met": sum(row.met for row in demands),
        "demands_healed": sum(row.healed for row in demands),
        "demands_unprotected": sum(row.unprotected for row in demands),
        **{name: _times(recoveries, name) for name in TIMES},
    }


def _air(spans: list[Span]) -> dict[str, float | None]:
    ms = {state: sum(r.end - r.start for r in spans if r.state == state) for state in STATES}
    air, lost, unknown = sum(ms.values()), ms["lost"], ms["unknown"]
    return {
        "air_s": air / 1000,
        **{f"{state}_s": ms[state] / 1000 for state in STATES},
        "continuity": 1 - lost / (air - unknown) if air > unknown else None,
        "continuity_low": 1 - (lost + unknown) / air if air else None,
        "continuity_high": 1 - lost / air if air else None,
        **{f"exposed_{why.replace(' ', '_')}_s": _seconds(r for r in spans if r.why == why) for why in WHYS},
    }


def _seconds(rows: Iterable[Span | Beside]) -> float:
    return sum(row.end - row.start for row in rows) / 1000


def _times(recoveries: list[Recovery], name: str) -> list[list[float | bool]]:
    """Every time of a kind as [seconds, whether its end was seen], shortest first."""
    times = [time for row in recoveries if (time := getattr(row, name)) is not None]
    return [[ms / 1000, seen] for ms, seen in sorted(times)]


def _by_month(rows: Iterable[Any]) -> Iterable[Any]:
    for row in rows:
        edge = month_start(month_of(row.end)) if month_of(row.end) != month_of(row.start) else row.end
        yield replace(row, end=min(row.end, edge))
        if edge < row.end:
            yield replace(row, start=edge)


def _is(read: Callable[[Any], str | None], name: str) -> Keep:
    return lambda row: read(row) == name


def _month(row: Any) -> str | None:
    return month_of(row.start if hasattr(row, "start") else row.at)


def _channel(row: Any) -> str | None:
    return str(row.channel)


def _machine(row: Any) -> str | None:
    found: str | None = row.source if hasattr(row, "source") else row.machine
    return found


def _transmissions(spans: list[Span]) -> list[dict[str, Any]]:
    groups: dict[tuple[str, str], list[Span]] = {}
    for span in spans:
        groups.setdefault((span.channel, span.transmission), []).append(span)
    return [
        {
            "channel": channel,
            "transmission": name,
            **_air(rows),
            "elsewhere_s": _seconds(r for r in rows if r.elsewhere),
        }
        for (channel, name), rows in sorted(groups.items())
    ]


def _interruptions(truth: Truth) -> list[dict[str, Any]]:
    return [
        {
            "channel": row.channel,
            "started_at_utc": stamp_utc(row.start),
            "ended_at_utc": stamp_utc(row.end),
            "lost_s": row.lost / 1000,
            "machine": row.machine,
            **{name: getattr(row, name) for name in ("demand", "met", "healed", "unprotected")},
        }
        for row in sorted(truth.interruptions, key=lambda row: (row.start, row.channel))
    ]


def _recoveries(truth: Truth) -> list[dict[str, Any]]:
    return [
        {
            "channel": row.channel,
            "at_utc": stamp_utc(row.at),
            "machine": row.machine,
            **{name: [time[0] / 1000, time[1]] if (time := getattr(row, name)) else None for name in TIMES},
            "ticket": row.ticket or None,
        }
        for row in sorted(truth.recoveries, key=lambda row: (row.at, row.channel))
    ]

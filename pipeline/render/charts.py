"""The charts of the pages, each with a sentence that says what it shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from pipeline.render.figures_svg import FAINT, INK, STAND_INS, Figure, drawn, styled
from pipeline.render.words import counted, duration, hours, limits, month_name

STATES = ("covered", "unproved", "exposed", "lost", "not known")
FIELDS = {
    "covered": "covered_s",
    "unproved": "unproved_s",
    "exposed": "exposed_s",
    "lost": "lost_s",
    "not known": "unknown_s",
}
WIDTH = 560
SMALL_AIR_S = 360_000  # 100 h
BARS_AT_MOST = 60  # in one chart; a taller one is no picture, and the library that draws breaks at some thousands
Groups = Sequence[Mapping[str, Any]]


def _data(rows: Sequence[Mapping[str, Any]]) -> alt.InlineData:
    return alt.InlineData(values=[dict(row) for row in rows])


def hours_bar(groups: Groups, key: str, name: str) -> Figure:
    """Air hours by state, a bar a group; below it only what was not covered, on a scale of its own. Bounded."""
    groups, left_out = most_air(groups, key)
    rows = [
        {"group": group[key], "state": state, "h": group[field] / 3600, "order": order}
        for group in groups
        for order, (state, field) in enumerate(FIELDS.items())
    ]
    order = [group[key] for group in groups]
    upper = _state_bars(rows, order, "air hours, all states")
    lower = _state_bars([row for row in rows if row["state"] != "covered"], order, "air hours not covered (own scale)")
    chart = styled(alt.vconcat(upper, lower, spacing=14))
    says = "; ".join(
        f"{group[key]}: {hours(group['air_s'])} on air, of these "
        + ", ".join(f"{hours(group[field])} {state}" for state, field in FIELDS.items())
        for group in groups
    )
    caption = (
        "Air hours by state. The lower bars repeat what was not covered on a scale of its own; what is not known is "
        f"drawn as a gap and is neither calm nor lost.{left_out}"
    )
    return drawn(chart, name, f"Air hours by state. {says}.", caption)


def _state_bars(rows: Sequence[Mapping[str, Any]], order: Sequence[str], title: str) -> alt.Chart:
    bars: alt.Chart = (
        alt.Chart(_data(rows), width=WIDTH, height=alt.Step(24))
        .mark_bar(stroke=INK, strokeWidth=0.6, size=15)
        .encode(
            x=alt.X("h:Q", title=title, stack=True, axis=alt.Axis(tickCount=6)),
            y=alt.Y("group:N", title=None, sort=list(order), axis=alt.Axis(ticks=False, domain=False, labelPadding=5)),
            order="order:Q",
            color=alt.Color(
                "state:N",
                scale=alt.Scale(domain=list(STATES), range=[STAND_INS[state] for state in STATES]),
                legend=alt.Legend(title=None),
            ),
        )
    )
    return bars


def months_run(months: Groups, current: str, name: str) -> Figure:
    """Protect switches per 1,000 air hours with exact limits, and seconds lost, month after month."""
    rows = [
        {
            "month": month["month"],
            "value": month["protect_switches_per_1000_air_h"]["value"],
            "low": month["protect_switches_per_1000_air_h"]["low"],
            "high": month["protect_switches_per_1000_air_h"]["high"],
            "lost": month["lost_s"],
            "is_current": month["month"] == current,
        }
        for month in months
    ]
    base = alt.Chart(_data(rows), width=WIDTH)
    x = alt.X("month:O", title=None, axis=alt.Axis(labelAngle=0, labelOverlap=True))
    top = ["protect switches", "per 1,000 air h"]
    high = max([row["high"] for row in rows if row["high"] is not None], default=1.0)
    scale = alt.Scale(domain=[0, high], nice=True)
    rules = base.mark_rule(stroke=INK).encode(x=x, y=alt.Y("low:Q", title=top, scale=scale), y2="high:Q")
    point = alt.condition("datum.is_current", alt.value(INK), alt.value("#ffffff"))
    points = base.mark_point(stroke=INK, size=52, strokeWidth=1.2, opacity=1, shape="circle").encode(
        x=x, y=alt.Y("value:Q", title=top, scale=scale), fill=point
    )
    fill = alt.condition("datum.is_current", alt.value(STAND_INS["lost"]), alt.value("#ffffff"))
    lost = base.mark_bar(stroke=INK, strokeWidth=0.8, size=14).encode(
        x=x, y=alt.Y("lost:Q", title="seconds lost", axis=alt.Axis(tickCount=4)), color=fill
    )
    chart = styled(alt.vconcat((rules + points).properties(height=120), lost.properties(height=56), spacing=12))
    says = "; ".join(_month_says(month) for month in months)
    caption = (
        f"The run of the months; {month_name(current)} filled. Above: protect switches per 1,000 air h, lines are "
        "exact 95 % limits. Below: seconds lost."
    )
    return drawn(chart, name, f"Months in turn. {says}.", caption)


def _month_says(month: Mapping[str, Any]) -> str:
    rate = month["protect_switches_per_1000_air_h"]
    if rate["value"] is None:
        return f"{month_name(month['month'])}: no air time"
    return (
        f"{month_name(month['month'])}: {rate['value']:.1f} protect switches per 1,000 air h, limits "
        f"{limits(rate['low'], rate['high'])}, {duration(month['lost_s'])} lost"
    )


def causes_bars(causes: Groups, name: str) -> Figure:
    """Causes by count of events and, beside it, by seconds lost; unknown is hatched and keeps its place."""
    rows = [
        {
            "cause": cause_name(cause), "count": cause["count"], "lost": cause["lost_s"],
            "look": "not known" if cause["top"] == "unknown" else "plain",
        }
        for cause in causes
    ]  # fmt: skip
    order = [row["cause"] for row in rows]
    base = alt.Chart(_data(rows), height=alt.Step(20)).mark_bar(stroke=INK, strokeWidth=0.7, size=11)
    y = alt.Y("cause:N", sort=order, title=None, axis=alt.Axis(labelLimit=250, ticks=False, labelPadding=5))
    fill = alt.Color(
        "look:N",
        scale=alt.Scale(domain=["not known", "plain"], range=[STAND_INS["not known"], STAND_INS["plain"]]),
        legend=None,
    )
    whole = alt.Axis(format="d", tickMinStep=1, tickCount=5)
    left = base.encode(x=alt.X("count:Q", title="events", axis=whole), y=y, color=fill).properties(width=190)
    right = base.encode(
        x=alt.X("lost:Q", title="seconds lost", axis=alt.Axis(tickCount=4)),
        y=alt.Y("cause:N", sort=order, axis=None),
        color=fill,
    ).properties(width=190)
    says = "; ".join(f"{row['cause']}: {counted(row['count'], 'event')}, {duration(row['lost'])} lost" for row in rows)
    caption = "Causes by number of events (left) and by seconds lost (right). Unknown causes are hatched."
    return drawn(styled(alt.hconcat(left, right, spacing=18)), name, f"Causes. {says}.", caption)


def cause_name(cause: Mapping[str, Any]) -> str:
    """A cause's two levels in one line."""
    return f"{cause['top']}: {cause['second']}" if cause["second"] else str(cause["top"])


def transport_rates(machines: Groups, mean: float | None, name: str) -> Figure:
    """Each transport's rate with exact limits beside the room's own, in register order: no ranking. Bounded."""
    machines, left_out = most_air(machines, "machine")
    rows = [
        {
            "machine": machine["machine"],
            **machine["protect_switches_per_1000_air_h"],
            "size": "small" if machine["air_s"] < SMALL_AIR_S else "large",
        }
        for machine in machines
        if machine["protect_switches_per_1000_air_h"]["value"] is not None
    ]
    says = "; ".join(f"{row['machine']}: {row['value']:.1f}, limits {limits(row['low'], row['high'])}" for row in rows)
    caption = (
        "Protect switches away from each transport per 1,000 air h, with exact 95 % limits, in register order by pair. "
        "Dashed: the room's own rate; diamonds: less than 100 air h. A line that leaves the frame goes on: the numbers "
        f"are in the table below.{left_out}"
    )
    chart = styled(_rate_layers(rows, mean))
    return drawn(chart, name, f"Rates by transport. The room: {mean or 0:.1f}. {says}.", caption)


def most_air(groups: Groups, key: str) -> tuple[Groups, str]:
    """The groups with most air time, as many as a chart holds, in their own order, and a sentence on those left out."""
    if len(groups) <= BARS_AT_MOST:
        return groups, ""
    most = sorted(groups, key=lambda group: (-group["air_s"], group[key]))[:BARS_AT_MOST]
    kept = {group[key] for group in most}
    left_out = f" Drawn are the {BARS_AT_MOST} with most air time of {len(groups):,}; the table has them all."
    return [group for group in groups if group[key] in kept], left_out


def _rate_layers(rows: Sequence[Mapping[str, Any]], mean: float | None) -> alt.TopLevelMixin:
    # One machine with an hour of air would stretch the scale until the others were one dot; its line runs off instead.
    most = max((row["value"] for row in rows), default=0.0)
    high = max((row["high"] for row in rows), default=1.0)
    scale = alt.Scale(domain=[0, min(high, 2.5 * most) if most else high], nice=True)
    base = alt.Chart(_data(rows), width=WIDTH, height=alt.Step(22))
    names = alt.Axis(ticks=False, labelPadding=5)
    y = alt.Y("machine:N", sort=[row["machine"] for row in rows], title=None, axis=names)
    title = "protect switches away from it per 1,000 air h"
    rules = base.mark_rule(stroke=INK, clip=True).encode(x=alt.X("low:Q", title=title, scale=scale), x2="high:Q", y=y)
    shapes = alt.Shape("size:N", scale=alt.Scale(domain=["large", "small"], range=["circle", "diamond"]), legend=None)
    points = base.mark_point(stroke=INK, fill="#ffffff", size=60, strokeWidth=1.2, opacity=1, clip=True).encode(
        x=alt.X("value:Q", scale=scale), y=y, shape=shapes
    )
    means = alt.Chart(_data([{"mean": mean}] if mean is not None else []))
    line = means.mark_rule(stroke=FAINT, strokeDash=[5, 3], strokeWidth=1.4).encode(x=alt.X("mean:Q", scale=scale))
    layers: alt.TopLevelMixin = alt.layer(line, rules, points)
    return layers

"""The charts of the pages, each with a sentence that says what it shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.cause_names import cause_text
from pipeline.render.chart_library import alt
from pipeline.render.figures_svg import FAINT, INK, PAPER, STAND_INS, Chart, Figure, drawn, styled
from pipeline.render.language import decimal, say, whole
from pipeline.render.table_words import state_word
from pipeline.render.words import counted, duration, hours, limits

FIELDS = {
    "covered": "covered_s",
    "unproved": "unproved_s",
    "exposed": "exposed_s",
    "lost": "lost_s",
    "unknown": "unknown_s",
}
LOOKS = {"unknown": "not known"}  # the state whose hatch goes by another name
WIDTH, SMALL_WIDTH = 560, 236
SMALL_AIR_S = 360_000  # 100 h
BARS_AT_MOST = 60  # in one chart; a taller one is no picture, and the library that draws breaks at some thousands
Groups = Sequence[Mapping[str, Any]]


def _data(rows: Sequence[Mapping[str, Any]]) -> alt.InlineData:
    return alt.InlineData(values=[dict(row) for row in rows])


def hours_bar(groups: Groups, key: str, name: str, *, small: bool = False) -> Figure:
    """Air hours by state, a bar a group; below it only what was not covered, on a scale of its own. Bounded."""
    groups, left_out = most_air(groups, key)
    rows = [
        {"group": group[key], "state": state_word(state), "h": group[field] / 3600, "order": order}
        for group in groups
        for order, (state, field) in enumerate(FIELDS.items())
    ]
    order, width = [group[key] for group in groups], SMALL_WIDTH if small else WIDTH
    caption = say(
        "Air hours by state. The lower bars repeat what was not covered on a scale of its own; what is not known is "
        "drawn as a gap and is neither calm nor lost."
    )
    says = say("Air hours by state. {groups}.", groups="; ".join(_hours_say(group, key) for group in groups))
    return drawn(Chart(_hours_bars, (rows, order, width)), name, says, caption + left_out)


def _hours_bars(rows: Sequence[Mapping[str, Any]], order: Sequence[str], width: int) -> alt.TopLevelMixin:
    upper = _state_bars(rows, order, say("air hours, all states"), width)
    bare = [row for row in rows if row["order"]]
    lower = _state_bars(bare, order, say("air hours not covered (own scale)"), width)
    return styled(alt.vconcat(upper, lower, spacing=6 if width == SMALL_WIDTH else 14))


def _hours_say(group: Mapping[str, Any], key: str) -> str:
    states = ", ".join(f"{hours(group[field])} {state_word(state)}" for state, field in FIELDS.items())
    return say(
        "{group}: {hours} on air, of these {states}", group=group[key], hours=hours(group["air_s"]), states=states
    )


def _state_bars(rows: Sequence[Mapping[str, Any]], order: Sequence[str], title: str, width: int) -> alt.Chart:
    is_small = width == SMALL_WIDTH
    names = [state_word(state) for state in FIELDS]
    legend = alt.Legend(title=None, columnPadding=6, symbolSize=90, offset=4) if is_small else alt.Legend(title=None)
    bars: alt.Chart = (
        alt.Chart(_data(rows), width=width, height=alt.Step(13 if is_small else 24))
        .mark_bar(stroke=INK, strokeWidth=0.6, size=9 if is_small else 15)
        .encode(
            x=alt.X("h:Q", title=title, stack=True, axis=alt.Axis(tickCount=4 if is_small else 6)),
            y=alt.Y("group:N", title=None, sort=list(order), axis=alt.Axis(ticks=False, domain=False, labelPadding=5)),
            order="order:Q",
            color=alt.Color(
                "state:N",
                scale=alt.Scale(domain=names, range=[STAND_INS[LOOKS.get(state, state)] for state in FIELDS]),
                legend=legend,
            ),
        )
    )
    return bars


def causes_bars(causes: Groups, name: str) -> Figure:
    """Causes by count of events and, beside it, by seconds lost; unknown is hatched and keeps its place."""
    rows = [
        {
            "cause": cause_text(cause["top"], cause["second"]), "count": cause["count"], "lost": cause["lost_s"],
            "look": "not known" if cause["top"] == "unknown" else "plain",
        }
        for cause in causes
    ]  # fmt: skip
    says = "; ".join(
        say("{cause}: {events}, {lost} lost", cause=row["cause"], events=counted(row["count"], "event"),
            lost=duration(row["lost"]))
        for row in rows
    )  # fmt: skip
    caption = say("Causes by number of events (left) and by seconds lost (right). Unknown causes are hatched.")
    return drawn(Chart(_cause_bars, (rows,)), name, say("Causes. {causes}.", causes=says), caption)


def _cause_bars(rows: Sequence[Mapping[str, Any]]) -> alt.TopLevelMixin:
    order = [row["cause"] for row in rows]
    base = alt.Chart(_data(rows), height=alt.Step(14)).mark_bar(stroke=INK, strokeWidth=0.7, size=9)
    y = alt.Y("cause:N", sort=order, title=None, axis=alt.Axis(labelLimit=215, ticks=False, labelPadding=5))
    fill = alt.Color(
        "look:N",
        scale=alt.Scale(domain=["not known", "plain"], range=[STAND_INS["not known"], STAND_INS["plain"]]),
        legend=None,
    )
    counts = alt.Axis(format="d", tickMinStep=1, tickCount=3)
    left = base.encode(x=alt.X("count:Q", title=say("events"), axis=counts), y=y, color=fill).properties(width=78)
    right = base.encode(
        x=alt.X("lost:Q", title=say("seconds lost"), axis=alt.Axis(tickCount=3)),
        y=alt.Y("cause:N", sort=order, axis=None),
        color=fill,
    ).properties(width=78)
    return styled(alt.hconcat(left, right, spacing=12))


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
    told = "; ".join(
        say("{machine}: {rate}, limits {limits}", machine=row["machine"], rate=decimal(row["value"], 1),
            limits=limits(row["low"], row["high"]))
        for row in rows
    )  # fmt: skip
    says = say("Rates by transport. The room: {mean}. {machines}.", mean=decimal(mean or 0, 1), machines=told)
    caption = say(
        "Protect switches away from each transport per 1,000 air h, with exact 95 % limits, in register order by pair. "
        "Dashed: the room's own rate; diamonds: less than 100 air h. A line that leaves the frame goes on: the numbers "
        "are in the table below."
    )
    return drawn(Chart(_rate_layers, (rows, mean)), name, says, caption + left_out)


def most_air(groups: Groups, key: str) -> tuple[Groups, str]:
    """The groups with most air time, as many as a chart holds, in their own order, and a sentence on those left out."""
    if len(groups) <= BARS_AT_MOST:
        return groups, ""
    most = sorted(groups, key=lambda group: (-group["air_s"], group[key]))[:BARS_AT_MOST]
    kept = {group[key] for group in most}
    left_out = " " + say(
        "Drawn are the {n} with most air time of {all}; the table has them all.", n=BARS_AT_MOST, all=whole(len(groups))
    )
    return [group for group in groups if group[key] in kept], left_out


def _rate_layers(rows: Sequence[Mapping[str, Any]], mean: float | None) -> alt.TopLevelMixin:
    # One machine with an hour of air would stretch the scale until the others were one dot; its line runs off instead.
    most = max((row["value"] for row in rows), default=0.0)
    high = max((row["high"] for row in rows), default=1.0)
    scale = alt.Scale(domain=[0, min(high, 2.5 * most) if most else high], nice=True)
    base = alt.Chart(_data(rows), width=WIDTH, height=alt.Step(22))
    names = alt.Axis(ticks=False, labelPadding=5)
    y = alt.Y("machine:N", sort=[row["machine"] for row in rows], title=None, axis=names)
    title = say("protect switches away from it per 1,000 air h")
    rules = base.mark_rule(stroke=INK, clip=True).encode(x=alt.X("low:Q", title=title, scale=scale), x2="high:Q", y=y)
    shapes = alt.Shape("size:N", scale=alt.Scale(domain=["large", "small"], range=["circle", "diamond"]), legend=None)
    points = base.mark_point(stroke=INK, fill=PAPER, size=60, strokeWidth=1.2, opacity=1, clip=True).encode(
        x=alt.X("value:Q", scale=scale), y=y, shape=shapes
    )
    means = alt.Chart(_data([{"mean": mean}] if mean is not None else []))
    line = means.mark_rule(stroke=FAINT, strokeDash=[5, 3], strokeWidth=1.4).encode(x=alt.X("mean:Q", scale=scale))
    return styled(alt.layer(line, rules, points))

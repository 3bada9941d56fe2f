"""The run of the months: what each month had, what chance makes of it, and whether this one stands out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.chart_library import alt
from pipeline.render.figures_svg import FAINT, INK, PAPER, STAND_INS, Chart, Figure, drawn, styled
from pipeline.render.language import say
from pipeline.render.palette import BAND
from pipeline.render.run_readout import Point, drawn_points, with_readout
from pipeline.render.words import duration, figure, limits, month_name

WIDTH = 560
MOST, LEAST = 24, 13  # months shown: so many up to the page's own, and so many in all where they exist
RATE_H = 1000.0
HOUR = 3600.0
Months = Sequence[Mapping[str, Any]]
Compared = Mapping[str, Any]


def shown_months(count: int, place: int) -> range:
    """The places of the months to show beside that at ``place``: up to 24 that end with it.

    Where these are fewer than 13, months after it are shown too, until there are 13 or no more.
    """
    first = max(0, place + 1 - MOST)
    return range(first, min(count, max(place + 1, first + LEAST)))


def base_of(compared: Compared) -> Mapping[str, Any] | None:
    """What the month is held against: the twelve months before, or all others while there are fewer; None of none."""
    found: Mapping[str, Any] | None = compared["past"] or compared["others"]
    return found


def months_run(months: Months, place: int, compared: Compared, name: str) -> Figure:
    """Protect switches per 1,000 air hours, month after month, with seconds lost below.

    Every month has its exact 95 % limits (Garwood). The dashed line is the room's own rate in the months that this one
    is held against (`base_of`); the band at this month is where that rate would put it by chance, 95 months of 100:
    exact Poisson prediction limits (Hahn and Meeker 1991, Statistical Intervals, chapter 7), which allow for what the
    months before do not know of their own rate.
    """
    places = shown_months(len(months), place)
    rows = [_row(months[at], at == place) for at in places]
    base, month = base_of(compared), months[place]
    band = _band(compared, month)
    caption = say(
        "The run of the months, {month} filled. Above: protect switches per 1,000 air h; lines are exact 95 % limits, "
        "the dashed line is the room's own rate in {base}, the band is where that rate would put this month by chance. "
        "Below: seconds lost.",
        month=month_name(month["month"]), base=base_words(compared),
    )  # fmt: skip
    points = [Point(_month_says(months[at]), months[at]["air_s"] > 0) for at in places]
    chart = Chart(_drawing, (rows, base, band, month["month"]), drawn_points(points))
    return with_readout(drawn(chart, name, _says(months, places, place, compared), caption), points, place - places[0])


def _drawing(
    rows: Sequence[Mapping[str, Any]], base: Mapping[str, Any] | None, band: tuple[float, float] | None, month: str
) -> alt.TopLevelMixin:
    return styled(alt.vconcat(_rates(rows, base, band, month), _lost(rows), spacing=8))


def base_words(compared: Compared) -> str:
    """What the month is held against, in words."""
    return say("the twelve months before") if compared["past"] else say("all its other months")


def _row(month: Mapping[str, Any], is_current: bool) -> dict[str, Any]:
    rate = month["protect_switches_per_1000_air_h"]
    return {"month": month["month"], **rate, "lost": month["lost_s"], "is_current": is_current}


def _band(compared: Compared, month: Mapping[str, Any]) -> tuple[float, float] | None:
    expected = compared["expected"]
    if expected is None:
        return None
    exposure = month["air_s"] / HOUR / RATE_H
    return expected["low"] / exposure, expected["high"] / exposure


def _axis(*, is_lower: bool = False) -> alt.X:
    """Months, on the lower chart by number, with the year beneath the first and every January."""
    label = (
        "[substring(datum.label, 5), (datum.index == 0 || substring(datum.label, 5) == '01') "
        "? substring(datum.label, 0, 4) : '']"
    )
    axis = alt.Axis(labelAngle=0, labelExpr=label, labelOverlap=False, ticks=False, labels=is_lower)
    return alt.X("month:O", title=None, axis=axis)


def _rates(
    rows: Sequence[Mapping[str, Any]], base: Mapping[str, Any] | None, band: tuple[float, float] | None, month: str
) -> alt.LayerChart:
    high = max([row["high"] for row in rows if row["high"] is not None], default=1.0)
    scale = alt.Scale(domain=[0, max(high, band[1] if band else 0.0)], nice=True)
    title = [say("protect switches"), say("per 1,000 air h")]
    x, y = _axis(), alt.Y("low:Q", title=title, scale=scale, axis=alt.Axis(tickCount=4))
    chart = alt.Chart(_data(rows), width=WIDTH, height=70)
    layers: list[alt.Chart] = []
    if band:
        place = [{"month": month, "low": band[0], "high": band[1]}]
        box = alt.Chart(_data(place)).mark_bar(fill=BAND, stroke=FAINT, strokeDash=[2, 2], width=18)
        layers.append(box.encode(x=x, y=y, y2="high:Q"))
    if base:
        lines = [{"month": row["month"], "low": base["value"]} for row in rows]
        layers.append(alt.Chart(_data(lines)).mark_line(stroke=FAINT, strokeDash=[5, 3]).encode(x=x, y=y))
    layers.append(chart.mark_rule(stroke=INK).encode(x=x, y=y, y2="high:Q"))
    fill = alt.condition("datum.is_current", alt.value(INK), alt.value(PAPER))
    points = chart.mark_point(stroke=INK, size=44, strokeWidth=1.2, opacity=1, shape="circle")
    layers.append(points.encode(x=x, y=alt.Y("value:Q", scale=scale), fill=fill))
    return alt.LayerChart(layer=layers, width=WIDTH, height=70)


def _lost(rows: Sequence[Mapping[str, Any]]) -> alt.Chart:
    fill = alt.condition("datum.is_current", alt.value(STAND_INS["lost"]), alt.value(PAPER))
    y = alt.Y("lost:Q", title=say("seconds lost"), axis=alt.Axis(tickCount=3))
    chart = alt.Chart(_data(rows), width=WIDTH, height=30)
    bars: alt.Chart = chart.mark_bar(stroke=INK, strokeWidth=0.8, width=12).encode(
        x=_axis(is_lower=True), y=y, color=fill
    )
    return bars


def _data(rows: Sequence[Mapping[str, Any]]) -> alt.InlineData:
    return alt.InlineData(values=[dict(row) for row in rows])


def _says(months: Months, places: range, place: int, compared: Compared) -> str:
    """What the chart says: this month, where chance would put it, and the highest and lowest of the others."""
    month, base = months[place], base_of(compared)
    told = [_month_says(month)]
    if base is not None:
        told.append(_stands(month, compared, base))
    flown = [months[at] for at in places if at != place and months[at]["air_s"] > 0]
    if flown:
        ordered = sorted(flown, key=_value)
        told.append(say("Highest of the other months shown: {month}", month=_month_says(ordered[-1])))
        told.append(say("Lowest: {month}", month=_month_says(ordered[0])))
        worst = max(flown, key=lambda one: one["lost_s"])
        told.append(
            say("Most was lost in {month}: {lost}.", month=month_name(worst["month"]), lost=duration(worst["lost_s"]))
        )
    return " ".join(told)


def _value(month: Mapping[str, Any]) -> float:
    value: float = month["protect_switches_per_1000_air_h"]["value"]
    return value


def _stands(month: Mapping[str, Any], compared: Compared, base: Mapping[str, Any]) -> str:
    expected, count = compared["expected"], month["protect_switches"]
    values = {
        "rate": figure(base["value"]),
        "base": base_words(compared),
        "low": expected["low"],
        "high": expected["high"],
        "count": count,
    }
    if expected["low"] <= count <= expected["high"]:
        return say(
            "The room had {rate} in {base}; by chance that puts {low} to {high} switches in this month, and its "
            "{count} lie among them.",
            **values,
        )
    return say(
        "The room had {rate} in {base}; by chance that puts {low} to {high} switches in this month, and its "
        "{count} lie outside.",
        **values,
    )


def _month_says(month: Mapping[str, Any]) -> str:
    rate = month["protect_switches_per_1000_air_h"]
    if rate["value"] is None:
        return say("{month}: no air time.", month=month_name(month["month"]))
    return say(
        "{month}: {rate} protect switches per 1,000 air h, limits {limits}, {lost} lost.",
        month=month_name(month["month"]), rate=figure(rate["value"]), limits=limits(rate["low"], rate["high"]),
        lost=duration(month["lost_s"]),
    )  # fmt: skip

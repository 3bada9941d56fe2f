"""The two charts of the year ahead: switches by running age, and what to expect of each machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.chart_library import alt
from pipeline.render.figures_svg import FAINT, GRID, INK, PAPER, Chart, Figure, drawn, styled
from pipeline.render.language import say, say_counted, whole
from pipeline.render.words import counted, figure

WIDTH = 560
LINES_AT_MOST = 24  # machines drawn one by one
BARS_AT_MOST = 40
Rows = Sequence[Mapping[str, Any]]


def age_curve(curve: Mapping[str, Any], machines: Rows, name: str) -> Figure:
    """The room's mean cumulative function with its limits, and each machine's own count as a thin line. Bounded."""
    drawn_machines = most_hours([row for row in machines if row["ages_h"]], LINES_AT_MOST)
    steps = [point for row in drawn_machines for point in _steps(row)]
    points = [{"age": 0.0, "value": 0.0, "low": 0.0, "high": 0.0}]
    points += [{"age": point["age_h"], **_band(point)} for point in curve["points"]]
    last = curve["points"][-1]
    says = say(
        "By the age of {hours} air hours a machine of this room has had {switches} protect switches on average. "
        "Machines: {machines}.",
        hours=figure(last["age_h"]),
        switches=figure(last["value"]),
        machines="; ".join(_says(row) for row in drawn_machines),
    )
    caption = say(
        "Protect switches by running age, in air hours since the data begin. Thick: the mean of the machines that have "
        "reached that age, {machines}; grey: its 95 % limits. Thin: each machine's own count. A line that bends "
        "upwards gets worse.",
        machines=counted(curve["machines_count"], "machine"),
    )
    left_out = sum(bool(row["ages_h"]) for row in machines) - len(drawn_machines)
    if left_out:
        rest = say("Drawn one by one are those with most hours; {count} more are not.", count=whole(left_out))
        caption = f"{caption} {rest}"
    return drawn(Chart(_age_drawing, (points, steps)), name, says, caption)


def _age_drawing(points: Rows, steps: Rows) -> alt.TopLevelMixin:
    return styled(alt.layer(_band_layer(points), _lines(steps), _mean_layer(points)))


def _band(point: Mapping[str, Any]) -> dict[str, Any]:
    value = point["value"]
    low, high = (value if point[name] is None else point[name] for name in ("low", "high"))
    return {"value": value, "low": low, "high": high}


def _steps(row: Mapping[str, Any]) -> list[dict[str, Any]]:
    """A machine's count as a staircase from 0 to the end of its watch."""
    ages = [0.0, *row["ages_h"], row["air_h"]]
    counts = [*range(len(row["ages_h"]) + 1), len(row["ages_h"])]
    return [{"machine": row["machine"], "age": age, "count": count} for age, count in zip(ages, counts, strict=True)]


def _says(row: Mapping[str, Any]) -> str:
    return say_counted(
        "{machine}: {n} switch in {hours} h",
        "{machine}: {n} switches in {hours} h",
        row["count"],
        machine=row["machine"],
        hours=figure(row["air_h"]),
    )


def _band_layer(points: Rows) -> alt.Chart:
    band: alt.Chart = (
        alt.Chart(_data(points), width=WIDTH, height=260)
        .mark_area(color=GRID, interpolate="step-after", clip=True)
        .encode(x=alt.X("age:Q", title=say("air hours fed since the data begin")), y=_y("low:Q", points), y2="high:Q")
    )
    return band


def _mean_layer(points: Rows) -> alt.Chart:
    line: alt.Chart = (
        alt.Chart(_data(points))
        .mark_line(stroke=INK, strokeWidth=2.2, interpolate="step-after", clip=True)
        .encode(x="age:Q", y=_y("value:Q", points))
    )
    return line


def _lines(steps: Rows) -> alt.Chart:
    lines: alt.Chart = (
        alt.Chart(_data(steps))
        .mark_line(stroke=FAINT, strokeWidth=0.9, interpolate="step-after", clip=True)
        .encode(x="age:Q", y="count:Q", detail="machine:N")
    )
    return lines


def _y(field: str, points: Rows) -> alt.Y:
    # The limits at the oldest ages rest on one or two machines and would flatten the rest: the frame follows the mean.
    top = max(2.0 * max(float(point["value"]) for point in points), 1.0)
    return alt.Y(field, title=say("protect switches away from it"), scale=alt.Scale(domain=[0, top]))


def year_bars(machines: Rows, name: str) -> Figure:
    """Expected protect switches of the year with their limits, a line a machine, in the order given. Bounded."""
    rows = most_hours([row for row in machines if row["switches"]["low"] is not None], BARS_AT_MOST)
    data = [{"machine": row["machine"], **row["switches"], "basis": row["basis"]} for row in rows]
    says = say(
        "Protect switches in the next twelve months. {machines}.", machines="; ".join(_expects(row) for row in rows)
    )
    left_out = sum(row["switches"]["low"] is not None for row in machines) - len(rows)
    return drawn(Chart(_year_drawing, (data,)), name, says, _year_caption(left_out))


def _year_drawing(data: Rows) -> alt.TopLevelMixin:
    y = alt.Y(
        "machine:N", sort=[row["machine"] for row in data], title=None, axis=alt.Axis(ticks=False, labelPadding=5)
    )
    base = alt.Chart(_data(data), width=WIDTH, height=alt.Step(22))
    title = say("protect switches in the next twelve months")
    rules = base.mark_rule(stroke=INK).encode(
        x=alt.X("low:Q", title=title, scale=alt.Scale(zero=True)), x2="high:Q", y=y
    )
    shape = alt.Shape(
        "basis:N", scale=alt.Scale(domain=["steady", "changing"], range=["circle", "diamond"]), legend=None
    )
    dots = base.mark_point(stroke=INK, fill=PAPER, size=60, strokeWidth=1.2, opacity=1).encode(
        x="mean:Q", y=y, shape=shape
    )
    return styled(rules + dots)


def _expects(row: Mapping[str, Any]) -> str:
    switches = row["switches"]
    return say(
        "{machine}: {mean}, {low} to {high}",
        machine=row["machine"],
        mean=figure(switches["mean"]),
        low=whole(switches["low"]),
        high=whole(switches["high"]),
    )


def _year_caption(left_out: int) -> str:
    caption = say(
        "Protect switches to expect of each machine in twelve months at its present hours: the expected number and "
        "95 % limits of the count to come. Longer hours give longer lines: no ranking. Diamonds: a machine whose trend "
        "stands."
    )
    if not left_out:
        return caption
    rest = say("Drawn are those with most hours; {count} more are not.", count=whole(left_out))
    return f"{caption} {rest}"


def most_hours(rows: Rows, most: int) -> Rows:
    """The ``most`` rows with most hours on air, in the order given."""
    if len(rows) <= most:
        return rows
    kept = {row["machine"] for row in sorted(rows, key=lambda row: (-row["air_h"], row["machine"]))[:most]}
    return [row for row in rows if row["machine"] in kept]


def _data(rows: Rows) -> alt.InlineData:
    return alt.InlineData(values=[dict(row) for row in rows])

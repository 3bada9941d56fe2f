"""The chart of the page on care: rate ratios with limits on a logarithmic axis, one line a way of comparing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from pipeline.render.figures_svg import FAINT, INK, Figure, drawn, styled
from pipeline.render.transports.care_words import TITLES, ratio_text

WIDTH = 460
LEAST, MOST = 0.1, 10.0  # a line that goes on is cut here
TICKS = [0.1, 0.2, 0.5, 1, 2, 5, 10]
WAYS = {"raw": "all machines together", "adjusted": "inside machines", "together": "all care at once"}


def care_ratios(found: Mapping[str, Any], name: str) -> Figure | None:
    """Every ratio that there is; None where there is none."""
    rows = ratio_rows(found)
    if not rows:
        return None
    says = "; ".join(f"{row['line']}: {row['text']}" for row in rows)
    caption = (
        "Events per hour of uses with less care over those with more, with 95 % limits, on a logarithmic axis; right "
        "of 1 speaks for the care. Filled: inside machines, the ratio that is tested. Open: all machines together. "
        "Diamonds: all care at once. A line that leaves the frame goes on, and a ratio beyond it has no mark: the "
        "numbers are in the table below."
    )
    return drawn(styled(_layers(rows)), name, f"Rate ratios of care. {says}.", caption)


def ratio_rows(found: Mapping[str, Any]) -> list[dict[str, Any]]:
    """One row a line of the chart, its ends cut at the frame; ``value`` None where the mark lies outside it."""
    rows = []
    for item in found["items"]:
        together = found["together"]["ratios"].get(item["item"]) if found["together"] else None
        for way, ratio in (("adjusted", item["adjusted"]), ("raw", item["raw"]), ("together", together)):
            if ratio is not None:
                rows.append({"line": f"{TITLES[item['item']]}, {WAYS[way]}", "way": way} | _cut(ratio))
    return rows


def _cut(ratio: Mapping[str, float | None]) -> dict[str, Any]:
    value, low, high = ratio["value"], ratio["low"], ratio["high"]
    return {
        "text": ratio_text(ratio),
        "value": value if value is not None and LEAST <= value <= MOST else None,
        "low": min(max(low or 0.0, LEAST), MOST),
        "high": max(min(MOST if high is None else high, MOST), LEAST),
    }


def _layers(rows: Sequence[Mapping[str, Any]]) -> alt.TopLevelMixin:
    base = alt.Chart(alt.InlineData(values=[dict(row) for row in rows]), width=WIDTH, height=alt.Step(20))
    scale = alt.Scale(type="log", domain=[LEAST, MOST])
    x = alt.X(
        "low:Q", scale=scale, title="times the events per hour, less care over more",
        axis=alt.Axis(values=TICKS, format="~g"),
    )  # fmt: skip
    names = alt.Axis(ticks=False, labelPadding=5, labelLimit=260)
    y = alt.Y("line:N", sort=[row["line"] for row in rows], title=None, axis=names)
    one = alt.Chart(alt.InlineData(values=[{"one": 1}])).mark_rule(stroke=FAINT, strokeDash=[5, 3], strokeWidth=1.4)
    rules = base.mark_rule(stroke=INK).encode(x=x, x2="high:Q", y=y)
    marked = base.transform_filter("datum.value != null")
    points = marked.mark_point(stroke=INK, size=60, strokeWidth=1.2, opacity=1).encode(
        x=alt.X("value:Q", scale=scale), y=y,
        fill=alt.condition("datum.way == 'adjusted'", alt.value(INK), alt.value("#ffffff")),
        shape=alt.condition("datum.way == 'together'", alt.value("diamond"), alt.value("circle")),
    )  # fmt: skip
    layers: alt.TopLevelMixin = alt.layer(one.encode(x=alt.X("one:Q", scale=scale)), rules, points)
    return layers

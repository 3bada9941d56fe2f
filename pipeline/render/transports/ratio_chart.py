"""Ratios with limits on one logarithmic axis, a line each: under 1 on the left, over 1 on the right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.render.chart_library import alt
from pipeline.render.figures_svg import FAINT, INK, PAPER
from pipeline.render.language import localised

WIDTH = 460
LEAST, MOST = 0.1, 10.0  # a line that goes on is cut here
TICKS = [0.1, 0.2, 0.5, 1, 2, 5, 10]


@dataclass(frozen=True)
class Marks:
    """How lines are told apart: the ``way`` whose mark is filled, and the one whose mark is a diamond, if any."""

    filled: str
    diamond: str = ""


def ratio_row(line: str, way: str, ratio: Mapping[str, float | None], text: str) -> dict[str, Any]:
    """One line of the chart, its ends cut at the frame; ``value`` None where the mark lies outside it.

    A low of None is none, a high of None has no end.
    """
    value, low, high = ratio["value"], ratio["low"], ratio["high"]
    return {
        "line": line,
        "way": way,
        "text": text,
        "value": value if value is not None and LEAST <= value <= MOST else None,
        "low": min(max(low or 0.0, LEAST), MOST),
        "high": max(min(MOST if high is None else high, MOST), LEAST),
    }


def ratio_layers(rows: Sequence[Mapping[str, Any]], title: str, marks: Marks) -> alt.TopLevelMixin:
    """The chart of rows made by ``ratio_row``, in their order, with a broken line at 1."""
    base = alt.Chart(alt.InlineData(values=[dict(row) for row in rows]), width=WIDTH, height=alt.Step(19))
    scale = alt.Scale(type="log", domain=[LEAST, MOST])
    numbers = alt.Axis(values=TICKS, format="~g", labelExpr=f"replace(datum.label, '.', '{localised('.')}')")
    x = alt.X("low:Q", scale=scale, title=title, axis=numbers)
    names = alt.Axis(ticks=False, labelPadding=5, labelLimit=260)
    y = alt.Y("line:N", sort=[row["line"] for row in rows], title=None, axis=names)
    one = alt.Chart(alt.InlineData(values=[{"one": 1}])).mark_rule(stroke=FAINT, strokeDash=[5, 3], strokeWidth=1.4)
    rules = base.mark_rule(stroke=INK).encode(x=x, x2="high:Q", y=y)
    points = (
        base.transform_filter("datum.value != null")
        .mark_point(stroke=INK, size=60, strokeWidth=1.2, opacity=1)
        .encode(
            x=alt.X("value:Q", scale=scale),
            y=y,
            fill=alt.condition(f"datum.way == '{marks.filled}'", alt.value(INK), alt.value(PAPER)),
            shape=alt.condition(f"datum.way == '{marks.diamond}'", alt.value("diamond"), alt.value("circle")),
        )
    )
    layers: alt.TopLevelMixin = alt.layer(one.encode(x=alt.X("one:Q", scale=scale)), rules, points)
    return layers

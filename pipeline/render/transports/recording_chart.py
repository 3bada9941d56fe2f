"""The chart of the page on recordings: players and recorders, each against the others, on one logarithmic axis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from pipeline.render.figures_svg import FAINT, INK, Figure, drawn, styled
from pipeline.render.transports.recording_words import ratio_text

WIDTH = 460
LEAST, MOST = 0.1, 10.0  # a line that goes on is cut here
TICKS = [0.1, 0.2, 0.5, 1, 2, 5, 10]
MOST_LINES = 12  # of players, and of recorders


def recording_ratios(found: Mapping[str, Any], name: str) -> Figure | None:
    """Both kinds of ratio, at most twelve of each, those with most hours; None where there is none."""
    rows = ratio_rows(found["players"], "plays") + ratio_rows(found["recorders"], "recorded")
    if not rows:
        return None
    says = "; ".join(f"{row['line']}: {row['text']}" for row in rows)
    caption = (
        "Times as many faults as the others, with 95 % limits, on a logarithmic axis. Filled: a machine as player, on "
        "the same reels as the others. Open: a machine as recorder, its tapes against other tapes, with the players "
        "allowed for and drawn towards 1 by what luck gives. A line that leaves the frame goes on."
    )
    return drawn(styled(_layers(rows)), name, f"Players and recorders against the others. {says}.", caption)


def ratio_rows(rows: Sequence[Mapping[str, Any]], verb: str) -> list[dict[str, Any]]:
    """One row a line of the chart, in order of name, its ends cut at the frame; ``value`` None outside it."""
    told = [row for row in rows if ratio_text(row["ratio"]) != "n/a"]
    kept = sorted(sorted(told, key=lambda row: -row["exposure_h"])[:MOST_LINES], key=lambda row: str(row["machine"]))
    return [{"line": f"{row['machine']} {verb}", "way": verb} | _cut(row["ratio"]) for row in kept]


def _cut(ratio: Mapping[str, float | None]) -> dict[str, Any]:
    value, low, high = ratio["value"], ratio["low"], ratio["high"]
    return {
        "text": ratio_text(ratio),
        "value": value if value is not None and LEAST <= value <= MOST else None,
        "low": min(max(low or 0.0, LEAST), MOST),
        "high": max(min(MOST if high is None else high, MOST), LEAST),
    }


def _layers(rows: Sequence[Mapping[str, Any]]) -> alt.TopLevelMixin:
    base = alt.Chart(alt.InlineData(values=[dict(row) for row in rows]), width=WIDTH, height=alt.Step(18))
    scale = alt.Scale(type="log", domain=[LEAST, MOST])
    axis = alt.Axis(values=TICKS, format="~g")
    x = alt.X("low:Q", scale=scale, title="times as many faults as the others", axis=axis)
    names = alt.Axis(ticks=False, labelPadding=5, labelLimit=200)
    y = alt.Y("line:N", sort=[row["line"] for row in rows], title=None, axis=names)
    one = alt.Chart(alt.InlineData(values=[{"one": 1}])).mark_rule(stroke=FAINT, strokeDash=[5, 3], strokeWidth=1.4)
    rules = base.mark_rule(stroke=INK).encode(x=x, x2="high:Q", y=y)
    marked = base.transform_filter("datum.value != null")
    points = marked.mark_point(stroke=INK, size=60, strokeWidth=1.2, opacity=1).encode(
        x=alt.X("value:Q", scale=scale),
        y=y,
        fill=alt.condition("datum.way == 'plays'", alt.value(INK), alt.value("#ffffff")),
    )
    layers: alt.TopLevelMixin = alt.layer(one.encode(x=alt.X("one:Q", scale=scale)), rules, points)
    return layers

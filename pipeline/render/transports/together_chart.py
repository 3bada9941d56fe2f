"""The chart of the page on pairs: each pair's shared-cause share with its limits, beside the room's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.chart_library import alt
from pipeline.render.figures_svg import FAINT, INK, PAPER, Chart, Figure, drawn, styled
from pipeline.render.language import say
from pipeline.render.transports.together_numbers import share_with_limits

WIDTH = 520


def share_lines(rows: Sequence[Mapping[str, Any]], room: float | None, name: str) -> Figure:
    """A line a row (``name`` and ``share``) from limit to limit, a ring at the value; the room's value dashed."""
    data = [
        {"name": row["name"], **{part: 100 * row["share"][part] for part in ("value", "low", "high")}}
        for row in rows
        if row["share"]["value"] is not None
    ]
    says = "; ".join(f"{row['name']}: {share_with_limits(row['share'])}" for row in rows)
    caption = say(
        "Of a machine's failures, how many take its partner too, with exact 95 % limits; pairs in register order. "
        "Dashed: the room. Long lines mean few failures, not a bad pair."
    )
    told = say("Shared-cause share by pair. {shares}.", shares=says)
    return drawn(Chart(_drawing, (data, room)), name, told, caption)


def _drawing(data: Sequence[Mapping[str, Any]], room: float | None) -> alt.TopLevelMixin:
    base = alt.Chart(alt.InlineData(values=[dict(row) for row in data]), width=WIDTH, height=alt.Step(22))
    title = say("of a machine's failures, % that take its partner too")
    x = alt.X("low:Q", title=title, scale=alt.Scale(domain=[0, 100]))
    axis = alt.Axis(ticks=False, labelPadding=5)
    y = alt.Y("name:N", title=None, sort=[row["name"] for row in data], axis=axis)
    rules = base.mark_rule(stroke=INK).encode(x=x, x2="high:Q", y=y)
    rings = base.mark_point(stroke=INK, fill=PAPER, size=60, strokeWidth=1.2, opacity=1).encode(x="value:Q", y=y)
    own = alt.Chart(alt.InlineData(values=[] if room is None else [{"room": 100 * room}]))
    dashed = own.mark_rule(stroke=FAINT, strokeDash=[5, 3], strokeWidth=1.4).encode(x="room:Q")
    return styled(alt.layer(dashed, rules, rings))

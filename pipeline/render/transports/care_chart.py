"""The chart of the page on care: rate ratios with limits on a logarithmic axis, one line a way of comparing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.chart_library import alt
from pipeline.render.figures_svg import Chart, Figure, drawn, styled
from pipeline.render.language import say
from pipeline.render.transports.care_names import ratio_text, titles
from pipeline.render.transports.ratio_chart import Marks, ratio_layers, ratio_row


def ways() -> dict[str, str]:
    """The ways of comparing by their keys in figures.json."""
    return {
        "raw": say("all machines together"), "adjusted": say("inside machines"), "together": say("all care at once"),
    }  # fmt: skip


def care_ratios(found: Mapping[str, Any], name: str) -> Figure | None:
    """Every ratio that there is; None where there is none."""
    rows = ratio_rows(found)
    if not rows:
        return None
    says = "; ".join(f"{row['line']}: {row['text']}" for row in rows)
    caption = say(
        "Events per hour of uses with less care over those with more, with 95 % limits, on a logarithmic axis; right "
        "of 1 speaks for the care. Filled: inside machines, the ratio that is tested. Open: all machines together. "
        "Diamonds: all care at once. A line that leaves the frame goes on, and a ratio beyond it has no mark: the "
        "numbers are in the table below."
    )
    title = say("times the events per hour, less care over more")
    return drawn(Chart(_drawing, (rows, title)), name, say("Rate ratios of care. {ratios}.", ratios=says), caption)


def _drawing(rows: list[dict[str, Any]], title: str) -> alt.TopLevelMixin:
    return styled(ratio_layers(rows, title, Marks("adjusted", "together")))


def ratio_rows(found: Mapping[str, Any]) -> list[dict[str, Any]]:
    """One row a line of the chart, its ends cut at the frame; ``value`` None where the mark lies outside it."""
    rows, names, ways_of = [], titles(), ways()
    for item in found["items"]:
        together = found["together"]["ratios"].get(item["item"]) if found["together"] else None
        for way, ratio in (("adjusted", item["adjusted"]), ("raw", item["raw"]), ("together", together)):
            if ratio is not None:
                rows.append(ratio_row(f"{names[item['item']]}, {ways_of[way]}", way, ratio, ratio_text(ratio)))
    return rows

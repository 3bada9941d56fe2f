"""The pictures of a month's sheet, drawn so small that all of them stand on one page of paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render import charts
from pipeline.render.figures_svg import Figure
from pipeline.render.language import say
from pipeline.render.month_events import EventRow
from pipeline.render.month_run import months_run
from pipeline.render.month_strip import events_strip
from pipeline.render.reading import Reading, Row, Rows

CHANNELS_AT_MOST = 5
CAUSES_AT_MOST = 8


def sheet_pictures(
    reading: Reading, place: int, compared: Sequence[Row], rows: Sequence[EventRow]
) -> dict[str, Figure | None]:
    """The four pictures by the names that the template has for them; None where there is nothing to draw."""
    months = reading.figures["months"]
    month = months[place]
    channels = [row for row in reading.figures["month_channels"] if row["month"] == month["month"]]
    flown = [row for row in channels if row["air_s"] > 0]
    return {
        "months_run": months_run(months, place, compared[place], "run") if len(months) > 1 and month["air_s"] else None,
        "events_strip": events_strip(rows, month["month"]) if rows else None,
        "hours_bar": charts.hours_bar(_few_channels(flown, month), "channel", "hours", small=True) if flown else None,
        "causes_bars": charts.causes_bars(few_causes(month["causes"]), "causes") if month["causes"] else None,
    }


def _few_channels(flown: Rows, month: Mapping[str, Any]) -> Rows:
    """The channels, or all of them as one bar where there are more than a sheet holds."""
    return flown if len(flown) <= CHANNELS_AT_MOST else [{**month, "channel": say("all channels")}]


def few_causes(causes: Rows) -> Rows:
    """The most frequent causes, the rest summed; unknown keeps its place among those drawn."""
    if len(causes) <= CAUSES_AT_MOST:
        return causes
    named = sorted(causes, key=lambda cause: cause["top"] != "unknown")[: CAUSES_AT_MOST - 1]
    kept = [cause for cause in causes if cause in named]
    rest = [cause for cause in causes if cause not in named]
    summed = {name: sum(cause[name] for cause in rest) for name in ("count", "lost_s")}
    return [*kept, {"top": say("{n} other causes", n=len(rest)), "second": "", **summed}]

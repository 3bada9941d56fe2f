"""The chart of the page on recordings: players and recorders, each against the others, on one logarithmic axis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.chart_library import alt
from pipeline.render.figures_svg import Chart, Figure, drawn, styled
from pipeline.render.language import say
from pipeline.render.transports.ratio_chart import Marks, ratio_layers, ratio_row
from pipeline.render.transports.recording_ratios import ratio_text, says_nothing

MOST_LINES = 12  # of players, and of recorders


def recording_ratios(found: Mapping[str, Any], name: str) -> Figure | None:
    """Both kinds of ratio, at most twelve of each, those with most hours; None where there is none."""
    rows = ratio_rows(found["players"], "plays") + ratio_rows(found["recorders"], "recorded")
    if not rows:
        return None
    says = "; ".join(f"{row['line']}: {row['text']}" for row in rows)
    caption = say(
        "Times as many faults as the others, with 95 % limits, on a logarithmic axis. Filled: a machine as player, on "
        "the same reels as the others. Open: a machine as recorder, its tapes against other tapes, with the players "
        "allowed for and drawn towards 1 by what luck gives. A line that leaves the frame goes on."
    )
    told = say("Players and recorders against the others. {ratios}.", ratios=says)
    return drawn(Chart(_drawing, (rows,)), name, told, caption)


def _drawing(rows: list[dict[str, Any]]) -> alt.TopLevelMixin:
    return styled(ratio_layers(rows, say("times as many faults as the others"), Marks("plays")))


def ratio_rows(rows: Sequence[Mapping[str, Any]], way: str) -> list[dict[str, Any]]:
    """One row a line of the chart, in order of name, its ends cut at the frame; ``value`` None outside it.

    ``way``: "plays" or "recorded".
    """
    told = [row for row in rows if row["ratio"] is not None and not says_nothing(row["ratio"])]
    kept = sorted(sorted(told, key=lambda row: -row["exposure_h"])[:MOST_LINES], key=lambda row: str(row["machine"]))
    return [ratio_row(_line(row["machine"], way), way, row["ratio"], ratio_text(row["ratio"])) for row in kept]


def _line(machine: str, way: str) -> str:
    return say("{machine} plays", machine=machine) if way == "plays" else say("{machine} recorded", machine=machine)

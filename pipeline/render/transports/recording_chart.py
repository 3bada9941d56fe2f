"""The chart of the page on recordings: players and recorders, each against the others, on one logarithmic axis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.figures_svg import Figure, drawn, styled
from pipeline.render.transports.ratio_chart import Marks, ratio_layers, ratio_row
from pipeline.render.transports.recording_ratios import ratio_text

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
    layers = ratio_layers(rows, "times as many faults as the others", Marks("plays"))
    return drawn(styled(layers), name, f"Players and recorders against the others. {says}.", caption)


def ratio_rows(rows: Sequence[Mapping[str, Any]], verb: str) -> list[dict[str, Any]]:
    """One row a line of the chart, in order of name, its ends cut at the frame; ``value`` None outside it."""
    told = [row for row in rows if ratio_text(row["ratio"]) != "n/a"]
    kept = sorted(sorted(told, key=lambda row: -row["exposure_h"])[:MOST_LINES], key=lambda row: str(row["machine"]))
    return [ratio_row(f"{row['machine']} {verb}", verb, row["ratio"], ratio_text(row["ratio"])) for row in kept]

"""The figures of the last run, all of them or of one group: as figures.json has them, as rows, as a table to read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

import polars as pl

from pipeline.errors import FigureError
from pipeline.outputs import figure_rows

PARTS = ("month", "channel", "machine")
GROUP_OF = {
    (): "total",
    ("month",): "months",
    ("channel",): "channels",
    ("machine",): "machines",
    ("month", "channel"): "month_channels",
}
NAMED = 20  # names told in one line
SECONDS, RATIOS = "_s", ("continuity", "continuity_low", "continuity_high")


@dataclass(frozen=True)
class FigureGroup:
    """A group of figures: nothing (the total), a month, a channel, a machine, or a month and a channel."""

    month: str = ""
    channel: str = ""
    machine: str = ""

    @property
    def named(self) -> dict[str, str]:
        """The parts that are not empty."""
        return {part: getattr(self, part) for part in PARTS if getattr(self, part)}


def group_figures(figures: Mapping[str, Any], group: FigureGroup) -> dict[str, Any]:
    """The entry of ``figures`` (the content of figures.json) that holds the group's figures.

    Raises:
        FigureError: figures.json has no such group.
    """
    named = group.named
    key = GROUP_OF.get(tuple(named))
    if key is None:
        raise FigureError(
            f"There are no figures by {' and '.join(named)}. Name a month, a channel, a machine, or a month and a"
            " channel."
        )
    if key == "total":
        return dict(figures["total"])
    for entry in figures[key]:
        if all(entry[part] == value for part, value in named.items()):
            return dict(entry)
    raise _not_there(figures, named)


def group_rows(figures: Mapping[str, Any], group: FigureGroup) -> pl.DataFrame:
    """A row a figure, as figures.csv has them; of the group alone, or of all groups where none is named.

    Raises:
        FigureError: figures.json has no such group.
    """
    return _rows_of(figures, group) if group.named else figure_rows(dict(figures))


def shown_figures(figures: Mapping[str, Any], group: FigureGroup) -> list[tuple[str, str]]:
    """Name and value of each figure of the group for a terminal: seconds with their hours, shares with four decimals.

    What is not known is said.

    Raises:
        FigureError: figures.json has no such group.
    """
    rows = _rows_of(figures, group)
    return [(row["figure"], _shown(row["figure"], row["value"])) for row in rows.iter_rows(named=True)]


def _rows_of(figures: Mapping[str, Any], group: FigureGroup) -> pl.DataFrame:
    group_figures(figures, group)  # refuses a group that is not there
    parts = [pl.col(part).eq_missing(pl.lit(group.named.get(part), dtype=pl.String)) for part in PARTS]
    return figure_rows(dict(figures)).filter(*parts)


def _shown(name: str, value: float | None) -> str:
    if value is None:
        return "not known"
    if name in RATIOS:
        return f"{value * 100:.4f} %"
    if name.endswith(SECONDS):
        return f"{value:,.3f} s = {value / 3600:,.2f} h"
    return f"{value:,.0f}" if value == int(value) else f"{value:,.4g}" if value < 1 else f"{value:,.3f}"


def _not_there(figures: Mapping[str, Any], named: Mapping[str, str]) -> FigureError:
    for part, value in named.items():
        known = [str(entry[part]) for entry in figures[f"{part}s"]]
        if value not in known:
            near = get_close_matches(value, known, n=1)
            hint = f"Did you mean {near[0]}?" if near else f"There are: {', '.join(known[:NAMED])}."
            return FigureError(f'There is no {part} "{value[:60]}" among the figures. {hint}')
    told = ", ".join(f"{part} {value}" for part, value in named.items())
    return FigureError(f"There was no air in {told}. Name another month or channel.")
